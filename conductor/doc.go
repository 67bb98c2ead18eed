// Package conductor computes the constants of a line from how it is built:
// series impedance and shunt admittance matrices, per metre, of overhead lines
// from their wires and pole geometry, and of cables from their construction.
//
// The model is that of quasi-stationary fields: r.m.s. phasors at one
// frequency, wires long and parallel to a flat, homogeneous earth, each wire
// thin against its distances (no proximity effect beyond what its resistance
// contains). Everything is in SI units: m, ohm/m, S/m, Hz, ohm·m; temperature
// in °C. Currents count positive in one and the same direction in all
// conductors; the earth carries their sum back.
//
// A line gives its primitive matrices first: one row for each wire, screen and
// neutral. What is done at the ends of a conductor is then said by name:
//
//	Earthed   its voltage to earth is zero all along (Kron reduction)
//	Open      it carries no current: earthed at one end only, or not at all
//	Joined    several conductors are bonded at both ends and become one
//
// A conductor of which nothing is said stays, so that a neutral earthed at
// poles through resistances can be given to the network as a fourth conductor.
package conductor
