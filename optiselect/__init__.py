"""Choose compatible pluggable optics for a whole network, proven and checked."""
