// Package sim walks one system through the steps of a run and books every watt-hour.
//
// The way energy flows, and the order in which a step is done:
//
//	weather -> plane of array -> array -> charge controller -> battery bus -> inverter -> AC loads
//	                                                             |   |
//	                                                          battery +----------------> DC loads
//
// Prepare does all that does not depend on the charge: light on the plane, cell temperature, maximum power, what the
// controller's window and input rating leave of it, what the loads ask, where cold stands. Run then walks the steps. A
// step ends early wherever a limit is crossed (full, cut, reconnect, end of a trip, of a minimum off time, or of a charge
// at one current or voltage) and the rest of it goes on from there, so that an outage starts at a minute.
//
// # Conventions
//
// A step is an hour or less. Weather stands in local standard time, hour-ending: step i covers the time from its start to
// its end, and the sun stands at its middle, or at the middle of its sunlit part. Loads follow the clock on the wall.
// Battery power and current are positive when charging. Azimuth runs clockwise from true north. Fractions are 0..1.
// Temperatures are in degrees Celsius. Within a step, light, temperature and each load's mean power are constant; ratings
// go by the power of the loads that may be on at one moment.
//
// # What is left out, and what was decided
//
// The battery's temperature is that of the air around it through a first-order lag; its own losses do not warm it, a heater
// pad does, and what temperature makes of the battery then follows the run. Its course within a step is in closed form: charging is
// barred, slowed or allowed from the moment at which it passes the limit, and a heater's thermostat switches when the bank is there.
// Resistance, the charge that cold keeps in and the voltages held go by the mean of what lies between. Cold raises the level at which loads are cut, as
// less can be taken out, and never changes the charge held.
//
// Lead has two wells of charge (see battery.Lead); limits that it meets are closed in on. Its charger goes to float when it has
// been at the absorption voltage for its hours, and begins anew after a dark step. A PWM array is held at the voltage of the
// bus, which is guessed until the battery agrees. A backup charger gives what the sun does not. Cables to the array and
// from the controller take their share at full offer, those to the loads theirs at the nominal voltage.
//
// Where the coincident draw would pull the inverter's input, beyond its own cable, below its cut-off, its loads are off for five minutes, and as
// long as after an overload. Loads that are first to go are left off below their charge until it has risen 3 % above.
//
// A disconnection cuts AC and DC loads alike. Controller, box and protection board go on drawing; when nothing is left, and the sun
// gives less than they draw, everything sleeps until it gives that. Loads that pulled the voltage down, to the level of the cut or to
// its collapse, are off for five minutes and, where the level of return is a voltage, until the terminals are at it.
//
// Sub-arrays on one controller are each held against its voltage window and counted at their own maximum power; the ratings
// of its input hold for the sum. Under a shadow or snow an array has two points to choose from, and the controller takes
// the better of those inside its window. The hours of a step in which a shadow falls, and the others, share one cell
// temperature. The sun that a horizon hides is found to five minutes of the hour.
//
// Several controllers on one bus are each what they would be alone up to the bus: window, tracking, input ratings, losses, a cable
// like the one typed. There each is held by its own rated current at the voltage that all of them make, which is closed in
// on; PWM and tracking may stand side by side. Of what the bus does not take each gives the same share less. A bank has one
// voltage at a time, so all are set to the same stages: others are refused, as it would be the highest that decides.
//
// An inverter that runs on demand is on for the sum of the shares of the step in which loads ask, at most all of it. One
// whose loads may together exceed its rating trips for the whole step, and starts again by itself some minutes after.
// What a timetable keeps off is found to the minute, before means are taken. One that is over its continuous rating for no
// longer than half an hour of the hour that ends with the step is held by its 30-minute rating, where it has one.
//
// Search mode and auto-off are worked out before the run, as though the battery never ran out: an outage neither wakes the
// inverter nor starts its time under little load anew. Uses shorter than a step come one after another, so that two of them
// never wake an inverter that neither wakes alone, and what does not wake it gets its share of the time in which others do. A
// sensor without power lights no lamp. Whoever comes to use a load by timetable, or plugs in packs, wakes a box that went off.
//
// Packs that wait begin with the first step at whose start the charge is high enough, or the sun gives more at the bus than all
// else asks, which says nothing of whether it will carry them; or with the step of their deadline. They do not begin before it
// while the loads are cut, the inverter is off or has tripped, or a rule parts them from others that charge. From then on they
// ask as their charge goes, served or not: what an outage takes is unserved and not made up for. An inverter that searches or has
// auto-off is as worked out before the run, and beside that awake for packs that draw enough; what else asks meanwhile is served
// too. Ratings take their power on top of all that may be on in the step. Wants and the hand sum have them charge when plugged in.
//
// An outage of an empty battery is put to the cold when the charge refused for cold or heat since the battery was last full, had
// it been stored, would have covered most of what was not served; to heat where most of that was refused for heat. So is what a
// flat box whose input temperature shuts was offered in its sleep, though the books have it as not started. An outage with several
// causes is put to the one that took most of the energy. The verdict on array and battery follows the causes of the days.
//
// # What hourly data hide
//
// Clouds and kettles do not keep the hour. A made year of minutes (sun: Kasten & Czeplak's clouds, as many as give the spread
// within the hour of Skartveit & Olseth 1992, from memory; loads: kettle, compressor, lamp, chargers, milk warmer to the minute)
// was run beside its own hourly means, one synthetic year of each place. By hours, then by minutes; the hours have the beam
// and the diffuse light of the minutes:
//
//	                          De Bilt                                Las Vegas
//	                          store        small        barn         store        small
//	clipped, % of array       -            7.4   11.4   -            -            13.6  14.9
//	into the battery, kWh     106.6 125.6  85.6  109.7  83.4   92.5  90.0  109.0  85.3  104.0
//	lost in it, kWh           2.64   3.77  3.12   6.11  39.8   42.5  2.10   2.77  3.10   4.81
//	unserved, kWh             24.2   17.5  13.8   16.3  0       0.3  12.9    2.7  0.03   0.03
//	days without power        73       79  57       62  0         2  38       35  1         1
//	lowest charge, %          9.6     9.6  8.8     8.7  55.5   50.0  38.9   33.9  57.2   50.4
//	over the rating, h        42      2.9  0         0  0         0  42      2.9  0         0
//
// Store is trail-store with a kettle of 700 W; small has 760 W of modules on an input rated 400 W, 60 Ah of lithium, a cool box and a
// kettle; barn is ewe-barn with PWM and without its engine. In barn the battery is full on 253 days by hours and on 244 by minutes, and
// 753 and 834 h at the absorption voltage.
//
// So hours understate clipping, by a third under broken clouds and by a twelfth under a bright sky (were every cloudy hour
// broken, small would clip 16 % at De Bilt), what the battery takes in by 10 to 22 %, and what it loses by 6 to 49 %. The lowest
// charge comes out up to seven points too high; of days without power, six at most are missed in sixty to eighty. Ratings err
// the other way: an hour in which the loads of store may be over the inverter's rating is given up whole, and of 42 such hours
// 2.9 were really over it. What is then not served does not work the battery, which is a part of what differs in store.
//
// A step_min of 1 does not cure hourly weather: small then clips 7.3 %, by hours 7.2, since within the hour the light only
// follows the height of the sun. It does cure most of what the loads hide (105.8 kWh go into small's battery), where they are
// typed as uses or given as a profile of minutes; a motion light and a duty cycle stay spread over the hour. Where clipping
// or a battery of a day or two decides, take weather of minutes, or leave a tenth to spare.
//
// The hours that a user has know the global light alone. Split and sky were fitted to hours, and what they make of
// minutes is 3.5 % more light on a plane of 60 deg at De Bilt, 0.6 % at Las Vegas: that is theirs, and the table leaves it out.
// Cells here follow the light at once, and in truth some minutes later: of the 2.6 % less power that minutes give in small at De
// Bilt half is that (1.3 % less where power_coeff_per_k is 0), and too much.
// The clouds are rough: spread within the hour and sunshine are held to published figures in sim/minute_test.go.
// To repeat: go test ./sim -run Minute -v
//
// # How sure
//
// A second engine in the tests, of one-minute steps, agrees on random systems of lithium and lead, with PWM, backup, heaters, sag and
// cuts by voltage, and on search and auto-off where loads change on the hour. It does not know waiting packs and loads that go
// first, which have tests of their own. Beyond the systems of the tests about one in two hundred stands on an edge, where a hair
// decides whether loads come back that day, and differs by it. The length of the step does as much in one of a hundred.
//
// Run over 30 measured years of De Bilt and 25 of Hyderabad with ideal parts, a flat panel and a load spread over each day like
// its light, loss of load agrees within 1 % with a daily balance worked out independently (not a published table). The same
// load flat over the day is served less, since the night comes out of the store: where the store is one day, 0.023 in place
// of 0.010 is lost at De Bilt, at three days 0.013, at ten 0.011.
//
// # Speed
//
// The loop neither allocates nor branches on strings. BenchmarkYear runs it over trail-store and its own synthetic year,
// 476 crossings in 8,760 hours, on prepared inputs. On one x86-64 core it takes 54 to 59 ns an hour, without
// allocating; the least arithmetic that such an hour can take (efficiency, loss curve, terminal voltage, charge balance,
// eight sums), written in C with its arrays in cache, takes 30 to 32 ns at the same time. Lead takes 146 to 150 ns, under 5 times
// that (BenchmarkYearLead: exponentials, and closing in on the start of absorption), and lead behind a PWM controller 227 to 232, 7 to
// 7.5 times (BenchmarkYearPWM). Whole steps in which no limit is met go by themselves (walk, walkLead); what bounds them in lithium is a
// square root and a division for which the next hour waits. Preparing a year takes about 10 ms, a whole
// `tideover run` without charts 20 to 30 ms and under 20 MB.
//
// From twelve monthly means to a year of light on the plane of the array (days, hours, split, sky, plane;
// BenchmarkMeansToPlane) takes about 4 ms on one core where the sun is shared with the years before, as it is in every run
// of many years or variants, and 8 ms where it must be found. To repeat:
//
//	go test -run '^$' -bench 'Year|Prepare|MeansTo' ./sim
package sim
