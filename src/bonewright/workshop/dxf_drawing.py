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
    import ezdxf
    from ezdxf.colors import rgb2int
    from ezdxf.enums import TextEntityAlignment

    # Without this the library stamps the time of writing and identifiers of its own.
    ezdxf.options.write_fixed_meta_data_for_testing = True
    document = ezdxf.new("R2010", setup=False, units=_MILLIMETRES)
    document.header["$MEASUREMENT"] = _METRIC
    document.header["$LUNITS"] = _DECIMAL
    for name, layer in LAYERS.items():
        entry = document.layers.add(name)
        entry.rgb = tuple(int(layer.ink[at : at + 2], 16) for at in (1, 3, 5))
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
                "true_color": rgb2int(tuple(int(words.ink[at : at + 2], 16) for at in (1, 3, 5))),
            },
        )
        text.set_placement(words.at, align=TextEntityAlignment[_ALIGN[words.anchor]])
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()
