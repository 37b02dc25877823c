// Package deploytest holds the deployment files to what the program really offers.
// It has tests only.
package deploytest
