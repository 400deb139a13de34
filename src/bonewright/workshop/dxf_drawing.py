"""A drawing as DXF, one layer a kind of line, its unit stated as the millimetre."""

import io

from bonewright.workshop.drawing import LAYERS, Drawing

__all__ = ["dxf_of"]

_MILLIMETRES, _METRIC, _DECIMAL = 4, 1, 2
_ALIGN = {"start": "LEFT", "middle": "CENTER", "end": "RIGHT"}


def dxf_of(drawing: Drawing) -> str:
    """Write a drawing as DXF (version R2010), 1 unit = 1 mm.

    The file holds no time and no name, so that the same drawing gives the same text.
    """
    from ezdxf import options  # type: ignore[attr-defined] # its public switch, not listed
    from ezdxf.colors import rgb2int
    from ezdxf.document import Drawing as Document
    from ezdxf.enums import TextEntityAlignment

    # Without this the library stamps the time of writing and identifiers of its own.
    options.write_fixed_meta_data_for_testing = True
    document = Document.new("AC1024")
    document.units = _MILLIMETRES
    document.header["$MEASUREMENT"] = _METRIC
    document.header["$LUNITS"] = _DECIMAL
    for name, layer in LAYERS.items():
        entry = document.layers.add(name)
        entry.rgb = _rgb(layer.ink)
        # Widths of lines are kept in hundredths of a millimetre, of a fixed choice.
        entry.dxf.lineweight = 13 if layer.width_mm < 0.2 else 25 if layer.width_mm < 0.4 else 50
        entry.description = layer.meaning
    document.layers.add("words")
    space = document.modelspace()
    for line in drawing.lines:
        for loop in (line.points, *line.holes):
            space.add_lwpolyline(loop, close=line.closed, dxfattribs={"layer": line.layer})
    for words in drawing.words:
        text = space.add_text(
            words.text,
            height=0.7 * words.size_mm,
            rotation=words.turn_deg,
            dxfattribs={
                "layer": "words",
                "true_color": rgb2int(_rgb(words.ink)),
            },
        )
        text.set_placement(words.at, align=TextEntityAlignment[_ALIGN[words.anchor]])
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def _rgb(ink: str) -> tuple[int, int, int]:
    return int(ink[1:3], 16), int(ink[3:5], 16), int(ink[5:7], 16)
