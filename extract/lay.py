"""Lay: which way the strip's width points along every run, and how it turns at every node."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .chain import Chains
from .line import JointKind, JointLine
from .node import Orientation

__all__ = ["joint_of_lay", "lay_across", "mismatched", "orient"]

Across = NDArray[np.float64]
"""Unit vectors across the strip, NaN where not known."""

_UP = np.array([0.0, 0.0, 1.0])
_STEEP = np.sqrt(0.5)
_ONE_WAY = 1e-12
"""Square of the distance between the tips of two headings that are one; it lies over rounding."""
_LEVEL_KINDS = frozenset({JointKind.SLAB, JointKind.BASE_SEAL})


def lay_across(chains: Chains, lines: Sequence[JointLine], limit_deg: float) -> Across:
    """Find the direction across the strip at both ends of every chain.

    0. Where the model draws how the strip lies, that counts, and nothing is inferred.
    1. A slab joint or base seal lies flat: across is level and square to the run.
    2. A wall-base joint, and a wall joint that runs level, stand upright: across lies in the plumb plane of the run.
    3. A run that climbs in a wall takes its width along the wall: from the climbing run that it continues, else from
       the upright run that it stands on, else from the flat run that turns up into it.
    4. Where none of these holds, or two of them disagree, the lay is not known; nothing is guessed.

    Parameters
    ----------
    chains : Chains
        Stretches from node to node.
    lines : sequence of JointLine
        The lines they follow, with their kind of joint.
    limit_deg : float
        Directions closer than this are one, since the strip yields that far [degrees].

    Returns
    -------
    Across
        Shape (chains, 2, 3).
    """
    across = np.full((len(chains), 2, 3), np.nan)
    if chains.across is not None:
        across = _square(chains.across, chains.heading)  # RULE 0
    open_ends = np.isnan(across[:, :, 0])
    joints = [lines[line[0]].joint for line in chains.lines]
    climbs = _climbs(chains, joints, limit_deg)
    flat = np.array([joint in _LEVEL_KINDS for joint in joints], np.bool_) & ~climbs
    upright = np.array([joint in {JointKind.WALL_BASE, JointKind.WALL} for joint in joints], np.bool_) & ~climbs
    one, two = flat[:, None] & open_ends, upright[:, None] & open_ends
    across[one] = _unit(np.cross(_UP, chains.heading[one]))  # RULE 1
    across[two] = _square(np.broadcast_to(_UP, chains.heading[two].shape), chains.heading[two])  # RULE 2
    flat = np.where(
        open_ends.all(axis=1) | climbs, flat, np.nanmax(np.abs(across[:, :, 2]), axis=1, initial=0.0) < _STEEP
    )
    _climb(chains, across, climbs, flat, np.cos(np.radians(limit_deg)))  # RULE 3
    return across


def joint_of_lay(heading: NDArray[np.float64], across: Across) -> list[JointKind | None]:
    """Tell the joint kind that runs show by how they lie, where a model draws that.

    A run that climbs, its width level, is in a wall; a level one is on a wall's base where it stands upright, else in
    a slab. None where the lay is not known, or the ends differ.

    Parameters
    ----------
    heading, across : NDArray[np.float64]
        Unit vectors along and across at both ends, shape (runs, 2, 3).
    """
    climbs, upright = np.abs(heading[:, :, 2]) > _STEEP, np.abs(across[:, :, 2]) > _STEEP
    shown = np.where(climbs, 2, np.where(upright, 1, 0))
    known = ~np.isnan(across).any(axis=(1, 2)) & (shown[:, 0] == shown[:, 1]) & ~(climbs & upright).any(axis=1)
    kinds = (JointKind.SLAB, JointKind.WALL_BASE, JointKind.WALL)
    return [kinds[kind] if sure else None for kind, sure in zip(shown[:, 0].tolist(), known.tolist(), strict=True)]


def orient(headings: NDArray[np.float64], across: Across, limit_deg: float) -> list[Orientation]:
    """Tell how the strip turns at nodes that all have the same number of arms.

    Parameters
    ----------
    headings, across : NDArray[np.float64]
        Unit vectors along, away from the node, and across each arm, shape (nodes, arms, 3).
    limit_deg : float
        Directions closer than this are one [degrees].

    Returns
    -------
    list of Orientation
        Flat where all strips share one plane, vertical where all share the direction across, else compound; unknown
        where the lay of any arm is.

    Examples
    --------
    >>> east, north, up = np.eye(3)
    >>> orient(np.array([[east, north]]), np.array([[north, east]]), 15.1)[0].value
    'flat'
    >>> orient(np.array([[east, north]]), np.array([[up, up]]), 15.1)[0].value
    'vertical'
    """
    near = np.cos(np.radians(limit_deg))
    normal = np.cross(headings, across)
    flat = (np.abs(np.einsum("nij,nj->ni", normal, normal[:, 0])) >= near).all(axis=1)
    vertical = (np.abs(np.einsum("nij,nj->ni", across, across[:, 0])) >= near).all(axis=1)
    unknown = np.isnan(across).any(axis=(1, 2))
    choice = np.select([unknown, flat, vertical], [0, 1, 2], 3)
    names = (Orientation.UNKNOWN, Orientation.FLAT, Orientation.VERTICAL, Orientation.COMPOUND)
    return [names[i] for i in choice]


def mismatched(headings: NDArray[np.float64], across: Across, limit_deg: float) -> NDArray[np.bool_]:
    """Tell at which nodes two strips cannot be welded to each other, however they are cut.

    Two strips match on the plane that bisects them where each is the other's mirror image in that plane.

    Parameters
    ----------
    headings, across : NDArray[np.float64]
        Unit vectors along, away from the node, and across each arm, shape (nodes, arms, 3).
    limit_deg : float
        Directions closer than this are one [degrees].

    Returns
    -------
    NDArray[np.bool_]
        Shape (nodes,); False where the lay of any arm is unknown.
    """
    near = np.cos(np.radians(limit_deg))
    bad = np.zeros(len(headings), np.bool_)
    for i in range(headings.shape[1]):
        for j in range(i):
            mirror = headings[:, i] - headings[:, j]
            size2 = np.maximum(np.einsum("nj,nj->n", mirror, mirror), _ONE_WAY)
            image = across[:, i] - mirror * (2 * np.einsum("nj,nj->n", across[:, i], mirror) / size2)[:, None]
            bad |= np.abs(np.einsum("nj,nj->n", image, across[:, j])) < near
    return bad & ~np.isnan(across).any(axis=(1, 2))


def _climbs(chains: Chains, joints: Sequence[JointKind | None], limit_deg: float) -> NDArray[np.bool_]:
    """Tell which chains climb: plumb ones, and wall joints or those of no kind steeper than 45 degrees."""
    steep = np.abs(chains.heading[:, :, 2]).min(axis=1)
    in_wall = np.array([joint in {JointKind.WALL, None} for joint in joints], np.bool_)
    climbs: NDArray[np.bool_] = (steep >= np.cos(np.radians(limit_deg))) | (in_wall & (steep > _STEEP))
    return climbs


def _climb(chains: Chains, across: Across, climbs: NDArray[np.bool_], flat: NDArray[np.bool_], near: float) -> None:
    """Carry the direction along the wall up (and down) the climbing chains until nothing more can be told."""
    if not climbs.any():
        return
    ends_at: dict[int, list[tuple[int, int]]] = {}
    for end, nodes in enumerate((chains.start, chains.end)):
        for chain, node in enumerate(nodes.tolist()):
            ends_at.setdefault(node, []).append((chain, end))
    waiting = np.flatnonzero(climbs & np.isnan(across).any(axis=(1, 2))).tolist()
    while waiting:
        told = [chain for chain in waiting if _tell(chain, chains, across, climbs, flat, ends_at, near)]
        waiting = [chain for chain in waiting if np.isnan(across[chain]).any()] if told else []


def _tell(
    chain: int,
    chains: Chains,
    across: Across,
    climbs: NDArray[np.bool_],
    flat: NDArray[np.bool_],
    ends_at: dict[int, list[tuple[int, int]]],
    near: float,
) -> bool:
    """Set the direction across one climbing chain from its neighbours; return whether they tell it."""
    for rank in range(3):
        wall = [
            direction
            for end, node in enumerate((int(chains.start[chain]), int(chains.end[chain])))
            for other, at in ends_at[node]
            if other != chain and not np.isnan(across[other, at, 0])
            for direction in (_along_wall(rank, chains, across, climbs, flat, (chain, end), (other, at), near),)
            if direction is not None
        ]
        if wall:
            agree = all(abs(float(direction @ wall[0])) >= near for direction in wall)
            found = _square(np.broadcast_to(wall[0], (2, 3)), chains.heading[chain])
            if agree and not np.isnan(found).any():
                across[chain] = np.where(np.isnan(across[chain]), found, across[chain])
            return agree
    return False


def _along_wall(
    rank: int,
    chains: Chains,
    across: Across,
    climbs: NDArray[np.bool_],
    flat: NDArray[np.bool_],
    here: tuple[int, int],
    other: tuple[int, int],
    near: float,
) -> NDArray[np.float64] | None:
    """Return the direction along the wall that a neighbour gives, if it is of the rank asked for."""
    kind = 0 if climbs[other[0]] else 2 if flat[other[0]] else 1
    if kind != rank:
        return None
    if kind == 1:
        return _unit(chains.heading[other] * (1.0, 1.0, 0.0))
    in_line = -float(chains.heading[here] @ chains.heading[other]) >= near
    if kind == 0 and not in_line:
        return None
    direction: NDArray[np.float64] = across[other]
    return direction


def _square(vectors: NDArray[np.float64], along: NDArray[np.float64]) -> Across:
    """Return unit vectors in the planes of `vectors` and `along`, square to `along`; NaN where the two are parallel."""
    return _unit(vectors - along * np.einsum("...j,...j->...", vectors, along)[..., None])


def _unit(vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    size = np.linalg.norm(vectors, axis=-1, keepdims=True)
    unit: NDArray[np.float64] = np.where(size > 1e-9, vectors / np.maximum(size, 1e-9), np.nan)
    return unit
