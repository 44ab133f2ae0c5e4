package paper

import "testing"

// A figure must not round to the far side of the threshold that it is held to.
func TestFiguresReadAsTheyAreJudged(t *testing.T) {
	for _, c := range []struct {
		got, want string
	}{
		{below(9.44, 10), "9.4"}, {below(9.97, 10), "9.97"}, {below(9.9996, 10), "9.9996"}, {below(0, 10), "0.0"},
		{above(30.04, 30), "30.04"}, {above(31, 30), "31.0"},
	} {
		if c.got != c.want {
			t.Errorf("it reads %q, want %q", c.got, c.want)
		}
	}
}

func TestPercent(t *testing.T) {
	for share, want := range map[float64]string{0: "0 %", 0.0002: "0.1 %", 0.004: "0.4 %", 0.01: "1 %", 0.415: "42 %", 1: "100 %"} {
		if got := percent(share); got != want {
			t.Errorf("percent(%v) = %q, want %q", share, got, want)
		}
	}
}
