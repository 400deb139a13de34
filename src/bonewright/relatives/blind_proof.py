"""The blind proof: a living relative of known mass, predicted without it."""

from collections.abc import Mapping

import numpy as np

from bonewright.errors import NotEnoughEvidence
from bonewright.relatives.gathering import SpeciesPoints
from bonewright.relatives.line import of_different_sizes
from bonewright.relatives.results import BlindProofResult
from bonewright.relatives.trial import least_error, leave_one_out_trial, predict_one_species

__all__ = ["prove_blind"]


def prove_blind(
    points: Mapping[tuple[str, str], SpeciesPoints],
    *,
    species: str,
    correction: str,
    least_species: int,
) -> BlindProofResult:
    """Predict a known relative from each measurement, with that relative left out.

    The choice of the measurement is made without it too.

    Raises
    ------
    NotEnoughEvidence
        If no measurement has the species and ``least_species`` others.
    """
    predicted = {}
    trials = {}
    known_mass_kg = 0.0
    for key, entry in points.items():
        if species not in entry.species or len(entry.species) <= least_species:
            continue
        place = entry.species.index(species)
        known_mass_kg = float(entry.mass_kg[place])
        others = entry.without(species)
        bone_ln, mass_ln = np.log(others.bone_mm), np.log(others.mass_kg)
        if not of_different_sizes(others.bone_mm):
            continue
        trials[key] = leave_one_out_trial(bone_ln, mass_ln, correction=correction)
        predicted[key] = predict_one_species(
            bone_ln, mass_ln, at_bone_ln=float(np.log(entry.bone_mm[place]))
        )
    if not predicted:
        raise NotEnoughEvidence(
            f"The blind proof on {species} could not be made.",
            needed=f"a leg-bone measurement that {species} and {least_species} other species have",
            found="none that is not in doubt",
            would_help=f"rows for {species} in relative_measurements.csv",
        )
    chosen = least_error(trials)
    low, _, high = predicted[chosen]
    return BlindProofResult(
        species=species,
        known_mass_kg=known_mass_kg,
        predicted=predicted,
        chosen=chosen,
        held=low <= known_mass_kg <= high,
    )
