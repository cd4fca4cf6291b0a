//go:build race

package ledger

import "flag"

// racing says whether the race detector runs. An SQLite written in Go is ten times
// as slow with it, so what tries many ledgers one after the other tries fewer.
const racing = true

func init() {
	if err := flag.Set("rapid.checks", "10"); err != nil {
		panic(err)
	}
}
