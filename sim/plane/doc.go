// Package plane turns sun and sky into the light on the plane of the array, W/m2.
//
// It takes plain numbers: where the sun is, and what falls on level ground. Azimuths run clockwise from true north
// (90 east, 180 south); tilt is 0 flat, 90 upright; every irradiance is a mean over the step.
package plane
