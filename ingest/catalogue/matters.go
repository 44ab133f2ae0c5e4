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
	var stack []int
	for i, w := range m.Weight {
		if w < MattersFrom || label[i] != 0 {
			continue
		}
		n := int32(len(weights) + 1)
		var sum int64
		label[i] = n
		stack = append(stack[:0], i)
		for len(stack) > 0 {
			at := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			sum += int64(m.Weight[at])
			x := at % m.Columns
			for _, next := range [...]struct {
				at     int
				inside bool
			}{{at - 1, x > 0}, {at + 1, x < m.Columns-1}, {at - m.Columns, at >= m.Columns}, {at + m.Columns, at+m.Columns < len(m.Weight)}} {
				if next.inside && label[next.at] == 0 && m.Weight[next.at] >= MattersFrom {
					label[next.at] = n
					stack = append(stack, next.at)
				}
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
