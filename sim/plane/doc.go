// Package plane turns sun and sky into the light on the plane of the array, W/m2.
//
// It takes plain numbers: where the sun is, and what falls on level ground. Azimuths run clockwise from true north
// (90 east, 180 south); tilt is 0 flat, 90 upright; every irradiance is a mean over the step.
//
// # Which sky, and why
//
// Perez 1990 is the default, and the others are there to be compared. Light on planes measured at two places, over a
// hundred synthetic years made from their monthly clearness and split hour by hour (TestSyntheticYearsOnMeasuredPlanes), in
// % of the measured ratio of plane to level, ground 0.2:
//
//	                 Blue Hill, upright, 42 N       near Melbourne, 38 deg, 38 S
//	                 year  Nov to Feb  worst        year  May to Aug  worst month
//	perez            +0.7     -6.5     +11.7        +3.0     +0.7     +7.7
//	hdkr             +2.1     -7.8     +18.0        +1.1     -1.9     +6.8
//	hay_davies       -2.7    -10.0     -12.0        +0.5     -2.3     +6.0
//	isotropic        -5.6    -19.5     -21.7        -2.7     -8.7     -9.6
//
// Winter sizes a system without a grid, and the steep plane is where the models part: there Perez comes nearest. It is too
// low there all the same, by snow on the ground or by the smoothness of synthetic hours, and too high on a wall in
// summer: 8.0 to 11.7 % from May to July, where the ground gives a fifth of the light. With the ground as that hill has it,
// mixed woods of 0.15, and snow assumed to lie little (a fifth of January and February) or much (seven tenths), no month is off by
// more than 7.7 %, 5.0 % r.m.s., and the mean by -2.0 or +0.5 %. Hay & Davies is as good on a plane of middling tilt. Perez
// belongs on hours: on the mean day of a month it is 8 to 11 % too high, as that day's sky is half bright at every hour.
//
// # Which share of diffuse light, and why
//
// Ridley, Boland & Lauret 2010, which knows the hour's neighbours, its day and the sun's height. The law of Erbs, Klein &
// Duffie 1982, which knows the hour alone and was the default before, comes out as follows with the same years and Perez's
// sky: Blue Hill +0.5 % in the year, -7.8 % from November to February, +12.0 % at worst, 7.7 % r.m.s. (Ridley: 7.1); Melbourne
// +3.1, +0.4, +8.2 and 4.4 % (Ridley: 4.1). That of Reindl, Beckman & Duffie 1990 with the sun's height: +12.0 and +7.7 % at
// worst, 6.8 and 4.3 % r.m.s. Against the diffuse light of six typical years, itself modelled for the most part (mean error
// in %, root mean square in W/m2 of the hours by day; TestSplitOfTypicalYears):
//
//	          Juneau       Needles      Leadville    Invercargill  Managua      Ottawa
//	Ridley    -0.8  25.0   +4.6  33.1   +1.5  34.4   +12.5  47.7   +17.9  64.6  +3.0  23.1
//	Erbs      -1.9  31.0  +10.0  37.8   +2.8  40.8    +8.2  45.5    +9.7  64.2  +0.5  27.5
//	Reindl    -2.3  28.5  +21.5  47.6  +13.1  55.3   +10.6  46.7   +17.2  68.9  +3.7  28.6
//
// It gives synthetic hours 0.013 to 0.033 more diffuse light, of the light on the level, than the measured or typical hours
// of the same monthly means at six places of seven (Managua: 0.016 less): the generator's hours are a little too smooth.
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
