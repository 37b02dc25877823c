//go:build !race

package travel

// slower is how many times longer limits of time are under the race detector.
const slower = 1
