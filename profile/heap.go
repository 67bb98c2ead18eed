package profile

// A heap holds buses by distance, the nearest on top.
type heap struct {
	bus  []int
	dist []float64
}

func (h *heap) swap(i, j int) {
	h.bus[i], h.bus[j] = h.bus[j], h.bus[i]
	h.dist[i], h.dist[j] = h.dist[j], h.dist[i]
}

func (h *heap) push(bus int, d float64) {
	h.bus, h.dist = append(h.bus, bus), append(h.dist, d)
	for i := len(h.bus) - 1; i > 0 && h.dist[i] < h.dist[(i-1)/2]; i = (i - 1) / 2 {
		h.swap(i, (i-1)/2)
	}
}

func (h *heap) pop() (bus int, ok bool) {
	n := len(h.bus) - 1
	if n < 0 {
		return 0, false
	}
	bus = h.bus[0]
	h.swap(0, n)
	h.bus, h.dist = h.bus[:n], h.dist[:n]
	for i := 0; 2*i+1 < n; {
		k := 2*i + 1
		if k+1 < n && h.dist[k+1] < h.dist[k] {
			k++
		}
		if h.dist[i] <= h.dist[k] {
			break
		}
		h.swap(i, k)
		i = k
	}
	return bus, true
}
