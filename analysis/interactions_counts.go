package analysis

// compareCounts compares grades and pass or fail by the units that failed.
func (f *field) compareCounts() {}
