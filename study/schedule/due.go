package schedule

import "shelfspan/study"

// Due is a pull that is planned and not wholly taken, of any study.
type Due struct {
	Study, Pull      string
	Condition        string // empty at time zero
	Chamber          string // empty where none is stated
	Time             string
	Date             study.Date // planned
	Earliest, Latest study.Date // its window
	Units, Returned  int        // still to be opened, and to be measured and put back
	Part             bool       // some of it was taken already
}
