// Package climate turns twelve monthly means, of a known place or typed, and a seed into synthetic years of hourly
// weather: global light and air temperature.
//
// # How
//
//   - Daily clearness (light on the level over light outside the air) follows a law with density proportional to
//     (top - K)^m exp(l K), thinned out near its floor; with m = 1 and no floor it is that of K. G. T. Hollands, R. G. Huget,
//     Solar Energy 30(3), 195-209 (1983). Its top is that of Bendt and others (1981). l is solved so that the law's mean
//     is exactly the month's. m goes by latitude.
//   - Days hang together by a Gaussian chain mapped through the month's law, as in V. A. Graham, K. G. T. Hollands, T. E. Unny,
//     Solar Energy 40(2), 83-92 (1988), but made of two parts: a fast one, and a slow one (13 % of the variance) with a
//     memory of five days. The day-to-day correlation of clearness, the persistence, goes by latitude or is typed.
//   - The hours of a day are those of R. Aguiar, M. Collares-Pereira, Solar Energy 49(3), 167-174 (1992), scaled to the day.
//   - Air temperature: the monthly means joined smoothly; the diurnal shape of Erbs, Klein and Beckman (1983), stretched to
//     the place's own mean daily range and wider on clear days; and a day-to-day anomaly, partly tied to the light: clear
//     days are warm in summer and cold in winter. The numbers of this item, but for the shape, are guesses led by stations.
//
// The floor, the ramp above it, m, the persistence by latitude and the slow part are fitted to measured series: our own
// work, not published. Each constant says so where it stands.
//
// A monthly mean is the long-run expectation, not the mean of one year: no month is scaled to its mean, so dull Decembers
// occur. When the means come from few years they err themselves, and each synthetic year draws an error for them (see
// Place.Years); a winter is not cut by it. The chain runs on through the ends of months and years: year k+1 starts from the
// last day of year k. Yet year k of a seed does not depend on which others are made: its days are drawn from (seed, k), and
// its start from those of year k-1, by whose end that year's own start is forgotten.
//
// What it leaves out: anything that hangs together for longer than three weeks (dry years in a row; whole years differ a sixth
// too little); wind; fog by the hour; more light than the sun gives outside the air at the edges of clouds.
//
// # Does it predict real trouble?
//
// Each measured daily series below was given to the generator as twelve means and a latitude, nothing else, and its real
// years looked up among 200 synthetic ones: how many are darker than the 5th percentile + how many brighter than the 95th,
// by the energy of the darkest 3, 5, 10, 20 days in a row of a year, the longest run of days under a third of their month's
// mean (low is short), and the days without power of a flat panel and three days of store, sized by the synthetic years to
// lose 1 % of the load. Years are cut in the bright season. "Array" is that panel, in mean darkest-month daily loads, by 1,000
// synthetic years, and by the measured ones. (TestRealTroubleIsPredicted; it needs series whose licences keep them out of
// the repository.)
//
//	                 years  array   real  ratio    3 d   5 d  10 d  20 d  run  no power
//	De Bilt             30  0.974  0.996  0.978    2+1   2+0   1+0   0+0  0+0   0+0
//	Rothamsted          17  0.957  0.922  1.038    1+1   1+0   0+0   0+0  2+0   0+0
//	Valentia            21  0.954  0.941  1.014    1+3   1+4   0+1   0+2  3+0   0+1
//	Carrington          26  0.893  0.887  1.007    0+3   0+2   0+4   0+2  0+6   3+1
//	Kellogg             33  0.952  1.001  0.951    1+0   2+1   3+3   2+3  0+3   0+4
//	Tudela              11  0.921  0.931  0.989    1+0   1+0   1+0   0+0  0+2   0+0
//	Blairsville         25  0.937  0.946  0.991    4+0   1+1   0+0   0+1  0+0   0+0
//	Maricopa            33  0.885  0.891  0.993    3+3   4+2   2+4   2+1  0+0   3+4
//	Hong Kong           29  1.135  1.321  0.859    1+0   1+0   4+0   4+1  0+5   0+6
//	Hyderabad           25  0.978  0.962  1.017    0+4   0+4   0+1   0+3  2+1   0+2
//	Los Banos           14  0.931  0.956  0.974    1+0   0+0   2+1   1+1  0+0   0+3
//	Palmira             14  0.943  0.940  1.003    0+9   0+6   0+1   0+2  0+0   0+3
//	De Bilt 2011-20     10  0.963  0.941  1.023    0+1   0+1   0+1   0+1  0+0   0+0
//	pooled outside, %                             14.5  12.4  10.5   9.5  8.7  10.9
//
// With a perfect generator 10 % would lie outside. The array is off by 1.6 % on average without Hong Kong and Kellogg.
//
// These are the series to which the floor and its ramp were fitted, and among those to which the rest was: it is a fit, not
// a forecast. With the constants fitted afresh without each station, the law with a hard floor was off by 2.1 % on average
// at thirteen stations of fourteen in our comparison of generators.
//
// Where it errs:
//
//   - Low cloud that sits for weeks in a bright latitude (Hong Kong, February to April): the array comes out 14 % too small.
//     A month outside midwinter with a clearness below 0.40 at 18 to 35 deg is told in the notes of a year. Kind DullCoast
//     gives 1.344 there, 2 % too much; it rests on that station alone.
//   - Winters under lake cloud (Kellogg): 5 % too small.
//   - Open ocean coasts (Valentia; Gore in New Zealand): on the safe side, and more so for rare losses: 10 to 16 % too much
//     array for a loss of load of 0.001. Kind OceanCoast mends most of it; it rests on two stations.
//   - Near the equator the darkest three days are too dark (Palmira).
//   - Days without power of a given system are touchier than its size: off by about one a year where two are real.
//   - Beyond 55 deg, above 1500 m and under snow it has not been tried.
//
// Typical years, shown and not judged: the share of 200 synthetic years, from the same file's means, that are darker in
// their darkest 3, 5, 10, 20 days. Their months are real ones chosen for being usual, so their worst days are mild: no design
// should rest on one alone. (TestTypicalYearsAreShown.)
//
//	Juneau 100, 98, 87, 65 %    Needles 25, 46, 56, 43 %    Leadville 74, 63, 68, 68 %
//	Ottawa 98, 98, 92, 74 %     Managua 96, 98, 98, 94 %    Invercargill 81, 61, 29, 37 %
//
// Against a hard floor at 0.18 of the month's mean, which the comparison recommended: there 27 % of the darkest three days
// lie outside, 18 % of them below, because a year's darkest days then hardly differ between years. The price of the ramp is at rare
// losses: arrays for 0.001 are off by 5.8 % on average instead of 5.2 %. The check values of that comparison are met with
// its floor put back (section8_test.go); with the ramp all but two kinds are, both at De Bilt: the darkest five days of one
// year in ten (0.29 of the darkest month's mean, there 0.32) and the array for 0.001 with two days of store (1.66, there 1.58).
//
// # A night makes a store work
//
// Measured days of thirty years at De Bilt and twenty-five at Hyderabad, a flat panel and ideal parts: with the load spread
// over each day like its light, the loss of load is that of an independent daily balance, 0.01, to 1 %. With a flat load the same
// systems lose (TestDailySeriesKeepsItsReliability; our own calculation on both sides, not a published table):
//
//	days of store     1      2      3      4      5      7     10
//	De Bilt      0.0231 0.0149 0.0126 0.0119 0.0117 0.0115 0.0114
//	Hyderabad    0.0190 0.0143 0.0124 0.0117 0.0114 0.0109 0.0110
package climate
