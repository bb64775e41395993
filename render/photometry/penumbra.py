"""How wide the soft edge of a shadow is."""

from __future__ import annotations


def penumbra_width(source_width: float, source_to_edge: float, edge_to_receiver: float) -> float:
    """Width of the penumbra of a straight edge, all planes parallel; lengths [m].

    Source: similar triangles, W·d/D.
    """
    return source_width * edge_to_receiver / source_to_edge
