package rehearsal

// dinners is the two days of Skerry Table as they went. Frames of one dish
// stand minutes apart, dishes an hour. The first body writes its elevation;
// the second doesn't, and its frames of some dishes went through a cable into
// a folder a dish.
var dinners = []dinner{
	{recipe: "R01", day: 1, start: "08:41:10", height: 34, shots: []shot{
		{0, 'A', "test", 41, -8, 55, 720, 4, lying, 0, 0, -1.1, "", "packet", 0, 0},
		{4, 'A', "overhead", 87.5, 0, 55, 800, 5.6, turned, 0, 5, 0, "", "", 2, 0},
		{7, 'A', "overhead", 88.2, 0, 55, 760, 5.6, turned, 5, 0, 0.1, "overhead", "", 4, 0},
		{12, 'A', "three-quarter", 38, -14, 90, 900, 4, turned, 0, 0, 0, "hero", "packet", 5, 0},
		{15, 'A', "three-quarter", 40, 10, 55, 1350, 4, lying, 230, 10, 0, "half", "", 3, 0},
		{17, 'B', "three-quarter", 36, 24, 60, 640, 4, lying, 0, 0, -0.2, "", "sidecar", 0, 0},
		{19, 'B', "detail", 24, 30, 60, 430, 6.3, lying, 0, -15, 0, "", "", 0, 0},
	}},
	{recipe: "R02", day: 1, start: "10:08:32", height: 22, shots: []shot{
		{0, 'A', "test", 44, 0, 55, 700, 4, lying, 0, 0, -1, "", "sidecar", 0, 0},
		{5, 'A', "three-quarter", 40, -12, 55, 640, 4, turned, 0, -5, 0, "", "sidecar", 3, 0},
		{8, 'A', "three-quarter", 37, -18, 90, 880, 4.5, turned, 0, 0, 1.6, "hero", "", 5, 0},
		{12, 'A', "three-quarter", 42, 12, 55, 1350, 4, lying, -220, 10, 0, "half", "", 4, 0},
		{15, 'A', "low", 21, 20, 90, 640, 5, lying, 0, -10, 0.1, "", "", 2, 0},
	}},
	{recipe: "R03", day: 1, start: "11:29:05", tether: "R03 beetroot and caraway", height: 42, shots: []shot{
		{0, 'A', "test", 83, 0, 55, 780, 5.6, turned, 0, 0, -1.2, "", "packet", 0, 0},
		{4, 'A', "overhead", 88.7, 0, 55, 760, 6.3, turned, 0, 0, 0, "hero", "packet", 5, 0},
		{6, 'A', "overhead", 89.1, 8, 55, 720, 6.3, turned, 10, 10, 0, "overhead", "", 4, 0},
		{10, 'B', "three-quarter", 42, -20, 60, 640, 4, standing, 0, 0, 0, "", "", 0, 0},
		{12, 'B', "three-quarter", 39, 5, 40, 960, 4, lying, 220, 0, 0, "half", "", 0, 0},
		{15, 'B', "detail", 33, 25, 60, 380, 6.3, lying, 0, 0, 0, "", "", 0, 0},
	}},
	{day: 1, start: "12:51:40", height: 30, shots: []shot{ // someone's coffee on the window sill
		{0, 'B', "none", 29, 15, 40, 480, 2.8, lying, 0, 0, 0.1, "", "", 0, 0},
	}},
	{recipe: "R04", day: 1, start: "14:04:48", height: 20, shots: []shot{
		{0, 'A', "test", 45, 5, 55, 740, 4, lying, 0, 0, -1, "", "packet", 0, 0},
		{4, 'A', "three-quarter", 39, -10, 55, 660, 4, lying, 0, -5, 0, "hero", "packet", 4, 0},
		{8, 'A', "three-quarter", 43, 15, 55, 600, 4, lying, 10, 10, 0, "half", "", 3, 0},
		{11, 'A', "high", 62, 0, 55, 720, 5.6, lying, 0, 0, 0, "", "", 0, 0},
	}},
	{recipe: "R05", day: 1, start: "15:31:20", tether: "R05 potato cakes", height: 26, shots: []shot{
		{0, 'A', "test", 40, 0, 55, 700, 4, lying, 0, 0, -0.9, "", "packet", 0, 0},
		{4, 'A', "three-quarter", 38, -15, 90, 900, 4, turned, 0, 0, 0, "hero", "", 5, 0},
		{9, 'A', "overhead", 86.4, 0, 55, 770, 5.6, turned, 0, 0, 0, "overhead", "packet", 4, 0},
		{12, 'B', "three-quarter", 41, 15, 40, 980, 4, lying, 220, 5, 0, "half", "", 0, 0},
		{14, 'B', "low", 20, -10, 60, 560, 5, lying, 0, 0, 0, "", "", 0, 0},
	}},
	{recipe: "R06", day: 1, start: "17:02:15", height: 22, shots: []shot{
		{0, 'A', "test", 45, 0, 55, 720, 4, lying, 0, 0, -1.2, "", "packet", 0, 0},
		{5, 'A', "three-quarter", 39, -14, 90, 900, 4, turned, 0, 0, 0, "hero", "packet", 5, 0},
		{8, 'B', "high", 58, 0, 60, 760, 5.6, standing, 0, 0, 0, "overhead", "", 4, 0},
		{12, 'A', "three-quarter", 41, 12, 55, 1350, 4, lying, 220, 5, 0, "half", "", 3, 0},
		{14, 'B', "detail", 30, 20, 60, 420, 6.3, lying, 0, 0, -0.1, "", "sidecar", 0, 0},
	}},
	{recipe: "R07", day: 2, start: "08:38:54", tether: "R07 carrots", height: 24, shots: []shot{
		{0, 'A', "test", 58, 0, 55, 740, 4, lying, 0, 0, -1, "", "sidecar", 0, 0},
		{5, 'A', "high", 56, -6, 55, 700, 5, lying, 0, 0, 0, "hero", "", 5, 0},
		{8, 'A', "overhead", 87, 0, 55, 740, 5.6, lying, 0, 0, 0, "overhead", "", 4, 0},
		{12, 'B', "three-quarter", 40, 20, 40, 1050, 4, lying, -235, 0, 0, "half", "", 0, 0},
		{14, 'B', "detail", 34, -20, 60, 400, 6.3, lying, 10, -10, 0, "", "", 0, 0},
		{15, 'B', "damaged", 40, 20, 40, 580, 4, lying, 0, 0, 0, "", "", 0, 0},
	}},
	{recipe: "R08", day: 2, start: "10:11:27", height: 40, shots: []shot{
		{0, 'A', "test", 42, 0, 55, 700, 4, turned, 0, 0, -1, "", "packet", 0, 0},
		{3, 'A', "three-quarter", 36, -12, 90, 880, 4, turned, 0, 0, 0, "", "packet", 0, 0},
		{4, 'A', "three-quarter", 36, -12, 90, 880, 4, turned, 0, 0, 0, "hero", "packet", 5, 420},
		{7, 'A', "three-quarter", 41, 10, 55, 1350, 4, lying, 220, 5, 0, "half", "", 4, 0},
		{10, 'B', "three-quarter", 33, 22, 60, 600, 4, standing, 0, 0, 0.1, "", "sidecar", 0, 0},
		{12, 'B', "low", 18, 12, 60, 520, 5, lying, 0, -10, 0, "", "", 0, 0},
	}},
	{recipe: "R09", day: 2, start: "11:36:02", tether: "R09 plums in birch syrup", height: 40, shots: []shot{
		{0, 'A', "test", 85, 0, 55, 780, 5.6, turned, 0, 0, -1.2, "", "packet", 0, 0},
		{5, 'A', "overhead", 88.4, -6, 55, 740, 6.3, turned, 0, 0, 0, "hero", "", 5, 0},
		{7, 'A', "overhead", 87.8, 10, 55, 700, 6.3, turned, 0, 0, 0, "overhead", "packet", 3, 0},
		{11, 'B', "three-quarter", 40, -15, 60, 620, 4, standing, 0, 0, 0, "", "", 0, 0},
		{13, 'B', "three-quarter", 43, 10, 40, 960, 4, lying, 220, 0, 0, "half", "", 0, 0},
		{15, 'B', "detail", 30, 30, 60, 390, 6.3, lying, 0, 0, 0, "", "", 0, 0},
	}},
	{recipe: "R10", day: 2, start: "14:02:33", small: true, height: 22, shots: []shot{
		{0, 'B', "test", 84, 0, 40, 580, 5.6, standing, 0, 0, -1, "", "sidecar", 0, 0},
		{4, 'B', "overhead", 88, 0, 40, 560, 5.6, standing, 0, 0, 0, "hero", "sidecar", 5, 0},
		{7, 'B', "overhead", 87, 12, 40, 540, 5.6, lying, 0, 0, 0, "", "", 3, 0},
		{9, 'B', "three-quarter", 38, -10, 40, 520, 4, standing, 0, 0, 0, "", "", 0, 0},
	}},
	{recipe: "R11", day: 2, start: "15:33:41", height: 28, shots: []shot{
		{0, 'A', "test", 43, 0, 55, 720, 4, lying, 0, 0, -1, "", "packet", 0, 0},
		{4, 'A', "three-quarter", 40, -12, 90, 900, 4, turned, 0, 0, 0, "", "packet", 0, 0},
		{7, 'A', "three-quarter", 37, 14, 55, 660, 4, turned, 0, 0, 0, "", "", 0, 0},
		{10, 'A', "overhead", 88.9, 0, 55, 760, 5.6, turned, 0, 0, 0, "overhead", "", 4, 0},
		{14, 'A', "three-quarter", 41, 10, 55, 1350, 4, lying, 225, 5, 0, "half", "packet", 4, 0},
		{16, 'B', "detail", 28, -24, 60, 400, 6.3, lying, 0, 0, 0, "", "sidecar", 0, 0},
	}},
}
