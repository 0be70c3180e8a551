"""The whole set, in a fixed order."""

from .faults_edge import edge_faults
from .faults_file import file_faults
from .faults_picture import picture_faults
from .faults_shape import shape_faults
from .model import Made
from .sound import sound


def artworks() -> tuple[Made, ...]:
    """Every artwork of the set; nothing is drawn yet."""
    return (*sound(), *shape_faults(), *edge_faults(), *picture_faults(), *file_faults())
