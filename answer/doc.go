// Package answer turns results into the JSON values that are documented in docs/json.md. Command and server give the
// same ones: keys spell the unit out, a phasor is {magnitude, angle_degree, re, im}, and keys only grow.
package answer
