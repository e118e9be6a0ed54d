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
//     the place's own mean daily range, wider on clear days; and a day-to-day anomaly, partly tied to the light: clear days
//     are warm in summer and cold in winter. How wide the anomaly is goes by month: see the section on temperature.
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
//	De Bilt             30  0.960  0.996  0.964    2+0   2+0   1+0   0+0  0+3   0+0
//	Rothamsted          17  0.944  0.922  1.024    1+0   3+0   1+0   0+0  2+1   0+0
//	Valentia            21  0.942  0.941  1.001    1+3   1+4   0+1   0+2  3+0   0+1
//	Carrington          26  0.890  0.887  1.003    0+2   0+2   0+3   0+2  0+6   3+1
//	Kellogg             33  0.941  1.001  0.940    2+0   3+0   4+3   3+3  0+9   0+4
//	Tudela              11  0.916  0.931  0.984    1+0   2+0   2+0   0+0  0+2   0+0
//	Blairsville         25  0.930  0.946  0.983    6+0   1+1   0+0   0+1  0+5   0+0
//	Maricopa            33  0.884  0.891  0.992    5+3   5+2   2+4   3+1  0+0   3+4
//	Hong Kong           29  1.109  1.321  0.840    1+0   1+0  10+0   6+1  0+5   0+5
//	Hyderabad           25  0.972  0.962  1.011    0+4   0+3   0+1   0+3  2+1   0+2
//	Los Banos           14  0.927  0.956  0.969    1+0   0+0   2+1   1+1  0+3   0+2
//	Palmira             14  0.942  0.940  1.002    0+9   0+5   0+1   0+2  0+0   0+3
//	De Bilt 2011-20     10  0.949  0.941  1.009    0+1   0+1   0+1   0+1  0+0   0+0
//	pooled outside, %                             15.3  13.1  13.5  10.9 15.3  10.2
//
// With a perfect generator 10 % would lie outside. The array is off by 1.4 % on average without Hong Kong and Kellogg.
//
// These are the series to which the floor and its ramp were fitted, and among those to which the rest was: it is a fit, not
// a forecast. With the constants fitted afresh without each station, the law with a hard floor was off by 2.1 % on average
// at thirteen stations of fourteen in our comparison of generators.
//
// Where it errs:
//
//   - Low cloud that sits for weeks in a bright latitude (Hong Kong, February to April): the array comes out 16 % too small.
//     A month outside midwinter with a clearness below 0.40 at 18 to 35 deg is told in the notes of a year. Kind DullCoast
//     gives 1.293 there, 2 % too little; it rests on that station alone.
//   - Winters under lake cloud (Kellogg): 6 % too small.
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
//	Juneau 100, 96, 87, 62 %    Needles 22, 40, 52, 42 %    Leadville 70, 58, 66, 66 %
//	Ottawa 98, 98, 90, 74 %     Managua 94, 98, 97, 94 %    Invercargill 78, 55, 27, 36 %
//
// The comparison recommended a hard floor at 0.18 of the month's mean. With it 27 % of the darkest three days lie outside,
// 18 % of them below, because a year's darkest days then hardly differ between years. The ramp here mends that and still
// meets all of the comparison's check values (section8_test.go): at De Bilt the darkest five days of one year in ten come to
// 0.310 of the darkest month's mean (the floor: 0.323, to be held to 0.014) and the array for a loss of 0.001 with two days of
// store to 1.572 (1.584, to 0.05). Arrays for 0.001 with three days are off by 5.4 % on average (with the floor by 5.7 %). A
// fainter ramp, linear from 0.04 over 0.25, lies nearer to the measured spells of ten days and runs of dull days (10.5 and 8.7 %
// outside in place of 13.5 and 15.3) and misses those two values: 0.288 and 1.662.
//
// # How hot, how cold?
//
// The spread of daily means about their season, month by month, is guessed from latitude, daily range, clearness and how much
// colder the month is than the warmest; in the south from the first two alone. Its three numbers are fitted to ten stations
// (three of them near one another, one in the south), seven of which are typical years, with somewhat cut extremes; its form
// was chosen on the same stations and on Seattle and New York. A month of a northern station left out of the fit is off by
// 27 %, of which chance makes some 20 in files of one year; one width for all months, which stood here before, by 35 %.
// Each station against fifty synthetic years from its own means (daily means, sd within January and July, K; extremes, degC;
// but for De Bilt, with ten, one year stands against fifty):
//
//	                  January          July            hottest         coldest
//	              measured made   measured made   measured made   measured made
//	De Bilt            3.5  3.2        2.7  2.3       37.2 38.5      -18.8 -13.8
//	Juneau             6.2  4.5        1.7  2.1       26.1 32.0      -19.4 -28.0
//	Needles            2.3  3.5        1.8  2.0       46.3 51.2        0.6  -4.6
//	Leadville          3.7  4.0        1.8  2.2       27.0 35.4      -27.0 -31.4
//	Ottawa             5.6  4.5        2.5  2.2       32.8 38.2      -29.5 -32.6
//	Managua            1.0  1.0        1.2  0.9       37.0 40.0       16.0  16.2
//	Invercargill       2.5  2.2        2.4  2.3       25.7 28.9       -5.0  -8.2
//
// The hottest hour of two hundred years is 48.4 degC at Las Vegas (record 48.9, from memory), 37.8 at De Bilt (37.5, of 2019),
// 32.6 at Invercargill (33.8, from memory); the coldest -13.0 (-13.3), -14.4 (-24.8, of 1942) and -10.0 (-9.0). Known to err:
// winds from a desert (Sydney, Hobart, Melbourne: 5 to 10 K short of their records), arctic air that reaches far south (De
// Bilt, Texas, Florida: 9 to 11 K short), summer noons in the high mountains (Leadville: 6 K too hot), coasts of ice and sea
// (in Juneau's and Cold Bay's winters days spread four times as much as in their summers, here twice). Spells that last
// longer than a week or two are missing. (TestSpreadOfDays, TestDaysVaryAsMeasured, TestExtremesArePlausible.)
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
