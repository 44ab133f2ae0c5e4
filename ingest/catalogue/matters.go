package catalogue

// MattersFrom is the weight from which a cell of Matters belongs to a region.
const MattersFrom = 128

// Parts returns, for each cell of m, the number of the region that it belongs
// to, 1 … n, and 0 for none. A region is four-connected and made of cells that
// weigh MattersFrom or more; the weightiest is 1. Beyond 255 regions the least
// are none.
func (m Matters) Parts() []uint8 {
	if m.Columns <= 0 || m.Rows <= 0 || len(m.Weight) != m.Columns*m.Rows {
		return nil
	}
	label := make([]int32, len(m.Weight))
	var weights []int64 // of each region found, in the order found
	stack := make([]int32, 0, 256)
	n := int32(0)
	push := func(at int) {
		if label[at] == 0 && m.Weight[at] >= MattersFrom {
			label[at] = n
			stack = append(stack, int32(at))
		}
	}
	for i, w := range m.Weight {
		if w < MattersFrom || label[i] != 0 {
			continue
		}
		n++
		var sum int64
		push(i)
		for len(stack) > 0 {
			at := int(stack[len(stack)-1])
			stack = stack[:len(stack)-1]
			sum += int64(m.Weight[at])
			if at%m.Columns > 0 {
				push(at - 1)
			}
			if (at+1)%m.Columns > 0 {
				push(at + 1)
			}
			if at >= m.Columns {
				push(at - m.Columns)
			}
			if at+m.Columns < len(m.Weight) {
				push(at + m.Columns)
			}
		}
		weights = append(weights, sum)
	}
	rank := make([]uint8, len(weights)+1)
	for place := 1; place <= min(len(weights), 255); place++ {
		best := 0
		for i, w := range weights {
			if w > 0 && (best == 0 || w > weights[best-1]) {
				best = i + 1
			}
		}
		rank[best] = uint8(place)
		weights[best-1] = -1
	}
	parts := make([]uint8, len(label))
	for i, n := range label {
		parts[i] = rank[n]
	}
	return parts
}
