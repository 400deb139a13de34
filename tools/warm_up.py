"""Compile what a run compiles once for each machine, so that the first run is as quick as any."""

from bonewright.relatives.warming import warm_up

if __name__ == "__main__":
    warm_up()
