package finding

// listed is the number of faults told one by one; the rest are counted.
const listed = 50

// Collector gathers the faults of an input: the first fifty as they are, the
// rest as a number.
type Collector struct {
	Hint   string // what to do about all of them; may be empty
	faults []Fault
	total  int
}

// Add notes a fault. Its text is not made where it is only counted.
func (c *Collector) Add(file string, line int, column string, text func() string) {
	if c.total++; len(c.faults) < listed {
		c.faults = append(c.faults, Fault{File: file, Line: line, Column: column, Text: text()})
	}
}

// Count is the number of faults noted.
func (c *Collector) Count() int { return c.total }

// Join takes over what another one gathered.
func (c *Collector) Join(other *Collector) {
	c.faults = append(c.faults, other.faults...)
	c.total += other.total
}

// Err gives the faults as a *Faults in the order of files and lines, nil where
// there are none.
func (c *Collector) Err() error {
	if c.total == 0 {
		return nil
	}
	f := &Faults{List: c.faults, Hint: c.Hint}
	f.Sort()
	f.List = f.List[:min(len(f.List), listed)]
	f.More = c.total - len(f.List)
	return f
}
