package colour

type (
	vector [3]float64
	matrix [3][3]float64 // by rows
)

func (m matrix) times(v vector) vector {
	var out vector
	for i, row := range m {
		out[i] = row[0]*v[0] + row[1]*v[1] + row[2]*v[2]
	}
	return out
}

// by returns the matrix that applies n first and then m.
func (m matrix) by(n matrix) matrix {
	var out matrix
	for i := range 3 {
		for j := range 3 {
			out[i][j] = m[i][0]*n[0][j] + m[i][1]*n[1][j] + m[i][2]*n[2][j]
		}
	}
	return out
}

// inverse of a regular matrix, by cofactors.
func (m matrix) inverse() matrix {
	cofactor := func(i, j int) float64 {
		a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return m[a][c]*m[b][d] - m[a][d]*m[b][c]
	}
	determinant := m[0][0]*cofactor(0, 0) + m[0][1]*cofactor(0, 1) + m[0][2]*cofactor(0, 2)
	var out matrix
	for i := range 3 {
		for j := range 3 {
			out[j][i] = cofactor(i, j) / determinant
		}
	}
	return out
}
