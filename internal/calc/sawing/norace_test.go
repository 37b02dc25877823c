//go:build !race

package sawing

// slower is how many times longer limits of time are under the race detector.
const slower = 1
