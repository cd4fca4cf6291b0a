//go:build race

package main

// racing says whether the race detector runs.
const racing = true
