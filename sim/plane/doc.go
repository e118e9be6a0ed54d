// Package plane turns sun and sky into the light on the plane of the array, W/m2.
//
// It takes plain numbers: where the sun is, and what falls on level ground. Azimuths run clockwise from true north
// (90 east, 180 south); tilt is 0 flat, 90 upright; every irradiance is a mean over the step.
//
// # Which sky, and why
//
// Perez 1990 is the default, and the others are there to be compared. Light on planes measured at two places, over twenty
// synthetic years made from their monthly clearness and split hour by hour (TestSyntheticYearsOnMeasuredPlanes), in % of
// the measured ratio of plane to level, ground 0.2:
//
//	                 Blue Hill, upright, 42 N       near Melbourne, 38 deg, 38 S
//	                 year  Nov to Feb  worst        year  May to Aug  worst month
//	perez            +1.4     -6.0     +11.4        +3.8     +1.7     +8.1
//	hdkr             +2.3     -7.0     +15.8        +1.9     -0.7     +7.0
//	hay_davies       -2.2     -9.1     -11.7        +1.4     -1.2     +6.3
//	isotropic        -5.1    -18.9     -21.6        -1.9     -7.6    -11.2
//
// Winter sizes a system without a grid, and the steep plane is where the models part: there Perez comes nearest. It is too
// low there all the same, by snow on the ground or by the smoothness of synthetic hours, and too high on a wall in
// summer. Hay & Davies is as good on a plane of middling tilt. Perez belongs on hours: on the mean day of a month it is
// 8 to 11 % too high, as that day's sky is half bright at every hour.
//
// # The mean day of each month against other figures
//
// Without any weather, through the mean day of each month (share of diffuse light after Erbs, Klein & Duffie 1982, course
// of the day after Collares-Pereira & Rabl 1979), TestTiltedChecks, in % of the ratio given:
//
//	                                                     months  mean  r.m.s.  worst
//	Klein 1977's own figures, by his method                  35   0.0     0.6   +2.0
//	measured, Blue Hill, upright; Hay & Davies               12  +1.7     3.2   +7.5
//	measured, Blue Hill, upright; Klein's method             12  -0.1     3.3   +6.5
//	measured, near Melbourne, 38 deg; Hay & Davies           12  +2.6     3.5   +6.1
//	measured, near Melbourne, 38 deg; Klein's method         12  +1.4     2.3   +3.7
//	satellite table, Catalonia, 42 deg                       12  +4.6     5.6  +10.3
//	handbook, Boulder and Los Angeles (from memory)          96  -0.1     4.2  -12.0
//	German standard, Potsdam, walls to all sides             48  +5.4    13.4  +48.2  (walls to the north)
//	British standard's formula, ten regions, 50 to 60 N     480 +16.4    22.5  +89.9
//	typical years by the hour, even sky, not published      576  +6.0    20.8   +234  (Helsinki in December)
//	typical years by the hour, Hay & Davies, not published  576  +6.4    21.6   +237
//
// The last three stand low in winter beyond 40 N: at 43 N they put less on a wall in January (1.5 times the level) than was
// measured at Blue Hill (1.8 times) under a duller sky. The mean day has its own fault there: beyond 55 N the sun of one
// day cannot stand for a month.
//
// # What stands in the way
//
// A horizon hides the sun by azimuth and height, with the bright sky around it, and takes its share of the rest of the sky.
// A Shade falls at hours and seasons in words, in standard time. Snow covers, slides and brightens the ground.
package plane
