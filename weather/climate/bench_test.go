package climate

import "testing"

// One more year of a place whose sun is known.
func BenchmarkGenerate(b *testing.B) {
	p, _ := Find("De Bilt")
	g := New(p, Options{})
	g.Year(2025, 1, 0)
	b.ReportAllocs()
	for b.Loop() {
		g.Year(2025, 1, 0)
	}
}

// From twelve means to the first year.
func BenchmarkGenerateFromMeans(b *testing.B) {
	p, _ := Find("De Bilt")
	b.ReportAllocs()
	for b.Loop() {
		Generate(p, 2025, 1, 0)
	}
}

func BenchmarkNew(b *testing.B) {
	p, _ := Find("De Bilt")
	for b.Loop() {
		New(p, Options{})
	}
}
func BenchmarkOutside(b *testing.B) {
	p, _ := Find("De Bilt")
	for b.Loop() {
		outside(p, 2025)
	}
}
