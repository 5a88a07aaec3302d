"""The limit that an acceptance test of installed fiber compares its reading with."""

from __future__ import annotations

from optiselect.optics.budget import channel_loss_db
from optiselect.standards.acceptance import Method

END_CONNECTIONS_SEEN: dict[Method, int] = {"one-cord": 2, "two-cord": 1, "three-cord": 0}
"""How many of a link's two end connections a reading includes, by the number of cords in the reference.

Source: IEC 61280-4-1 and -4-2, TIA-526-14 and -7 (one-cord: methods B / A.1; two-cord: A / A.2; three-cord: C / A.3).
"""


def acceptance_limit_db(
    length_m: float,
    attenuation_db_km: float,
    *,
    method: Method,
    inner_connections: int = 0,
    splices: int = 0,
    connection_loss_db: float = 0.75,
    end_connection_loss_db: float = 0.75,
    splice_loss_db: float = 0.3,
) -> float:
    """The greatest loss in dB, at one test wavelength, with which a link passes.

    Args:
        length_m: fiber length.
        attenuation_db_km: allowance of the cable at the test wavelength.
        method: reference method; it decides how many of the two end connections the reading includes.
        inner_connections: mated pairs between the two ends.
        splices: splices.
        connection_loss_db: allowance of an inner connection.
        end_connection_loss_db: allowance of an end connection to a reference cord; newer editions give it a figure of its own
            (`standards.fiber.end_connection_db`).
        splice_loss_db: allowance of a splice.

    Raises:
        KeyError: when there is no such method.
        ValueError: when a length or count is negative.

    Source: TIA-568.3 and ISO/IEC 14763-3: connections x allowance + splices x 0.3 + km x attenuation.
    """
    ends = END_CONNECTIONS_SEEN[method]
    return channel_loss_db(
        length_m / 1000,
        attenuation_db_km,
        connections=inner_connections,
        connection_loss_db=connection_loss_db,
        splices=splices,
        splice_loss_db=splice_loss_db,
        further_db=(end_connection_loss_db,) * ends,
    )
