//go:build race

package page

// racing says whether the race detector runs.
const racing = true
