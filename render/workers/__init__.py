"""Many hands: workers of this machine or of a cluster that trace chunks of light frames."""

from render.workers.cluster import ClusterWorkers
from render.workers.local import LocalWorkers

__all__ = ["ClusterWorkers", "LocalWorkers"]
