from .case.read import Case as Case
from .errors import CaseError as CaseError
from .errors import GeometryError as GeometryError
from .errors import MissingProperty as MissingProperty
from .errors import RangeError as RangeError
from .library.alternatives import alternatives as alternatives
from .library.as_built import as_built as as_built
from .library.closeout import closeout as closeout
from .library.compare import compare as compare
from .library.correlation import correlation as correlation
from .library.envelope import envelope as envelope
from .library.reading import load as load
from .library.reading import read as read
from .library.review import review as review
from .library.shop import shop as shop
from .library.size import size as size
from .library.sweep import sweep as sweep
from .library.uncertainty import uncertainty as uncertainty
from .output.folder import OutputError as OutputError
from .solver.solve import MarchError as MarchError

__version__: str
__all__: list[str]
