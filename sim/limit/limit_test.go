package limit

import (
	"errors"
	"math"
	"testing"
)

func TestRangeFaults(t *testing.T) {
	for _, c := range []struct {
		r    Range
		v    float64
		want string
	}{
		{Above(0), -5, "-5 is not above 0"}, {Above(0), 0, "0 is not above 0"}, {Above(0), 1e-9, ""},
		{AtLeast(2), 1.5, "1.5 is not at least 2"}, {AtLeast(2), 2, ""},
		{Between(0, 1), 1.4, "1.4 is not between 0 and 1"}, {Between(0, 1), 1, ""},
		{AboveTo(0, 1), 0, "0 is not above 0 and at most 1"}, {AboveTo(0, 1), 1, ""},
		{Range{Hi: 3, HasHi: true}, 4, "4 is not at most 3"}, {Range{Hi: 3, HasHi: true, HiOpen: true}, 3, "3 is not below 3"},
		{Range{}, math.NaN(), "NaN is not a finite number"}, {Range{}, math.Inf(1), "+Inf is not a finite number"}, {Range{}, -1e300, ""},
	} {
		if got := c.r.Fault(c.v); got != c.want {
			t.Errorf("%v in %v: %q, want %q", c.v, c.r, got, c.want)
		}
	}
}

func TestKeys(t *testing.T) {
	var v float64
	var n, w int
	var b bool
	var s string
	type mode int
	var m mode
	keys := []Key{
		Num("a_w", &v, Above(0), "", "1").Needed(), Int("n", &n, Between(1, 3), "", "2").From("a guess"), Bool("b", &b, "", "true"),
		Str("s", &s, "", "x"), OneOf("m", &m, []string{"on", "off"}, "", "on"),
		Parsed("w", func(words []string) error {
			if len(words) != 1 {
				return errors.New("one word")
			}
			w = len(words[0])
			return nil
		}, "", "x"),
	}
	keys[0].SetNumber(2.5)
	keys[1].SetNumber(3)
	keys[2].SetFlag(true)
	keys[3].SetText("shed")
	if !keys[4].SetChoice("off") || keys[4].SetChoice("of") {
		t.Error("choices")
	}
	if err := keys[5].SetWords([]string{"four"}); err != nil || keys[5].SetWords(nil) == nil {
		t.Error("words")
	}
	for i, want := range []string{"2.5", "3", "true", "shed", "off", ""} {
		if got := keys[i].Value(); got != want {
			t.Errorf("%s holds %q, want %q", keys[i].Name, got, want)
		}
	}
	if v != 2.5 || n != 3 || !b || s != "shed" || m != 1 || w != 4 || !keys[0].Need || keys[1].Origin != "a guess" {
		t.Error(v, n, b, s, m, w)
	}
	if f := Check(keys); f != nil {
		t.Errorf("faults %v, want none", f)
	}
	v, n, m = -1, 7, 9
	f := Check(keys)
	if len(f) != 3 || f[0].Error() != "a_w: -1 is not above 0; example: a_w: 1" || f[1].Msg != "7 is not between 1 and 3" ||
		f[2].Error() != "m: is not one of on, off; example: m: on" {
		t.Errorf("faults %v", f)
	}
}
