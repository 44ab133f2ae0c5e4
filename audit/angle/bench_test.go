package angle

import "testing"

// BenchmarkOf is a frame with two rims and all the straight edges that are kept.
func BenchmarkOf(b *testing.B) {
	f := seen(rim(0.3, 0.33, 0.15, 62, 0.42), rim(0.75, 0.3, 0.12, 61, 0.42))
	f.Look.Lines = boards(62, 20, 35, 2.0/3)
	f.Look.Lines = f.Look.Lines[:min(48, len(f.Look.Lines))]
	b.ReportMetric(float64(len(f.Look.Lines)), "lines")
	b.ReportAllocs()
	for b.Loop() {
		Of(f)
	}
}
