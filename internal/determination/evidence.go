package determination

// EvidenceKinds lists the kinds of further evidence.
var EvidenceKinds = []string{"size", "magnet", "conductivity", "sound", "surface", "touchstone", "refraction"}
