// Package sparse solves A·x = b for the nodal admittance matrices of
// distribution networks: one node per bus, one to four conductors per node, so
// that A is a sparse matrix of small dense complex blocks. Its pattern is
// symmetric (a branch couples both ways); its values need not be.
//
// The work has three parts that are kept apart, so that each is done once for
// as long as it holds:
//
//	Analyse    pattern  → elimination order and filled pattern   (*Analysis)
//	Factor     values   → block LU on that pattern               (*Factor)
//	Solve …    right-hand sides → solutions
//
// # Method
//
// The order is approximate minimum degree on the graph of nodes, not of
// conductors, then a postorder of the elimination tree so that a node and its
// parent lie close in memory. The factorisation is A = L·U in blocks, L with
// unit diagonal, with row pivoting inside each diagonal block:
//
//	S_k          pivot block of node k, LU with pivoting, kept as such
//	L_jk         A_jk · S_k⁻¹          for each later neighbour j of k
//	A_ij    ←    A_ij − L_ik · A_kj    for each pair i, j of later neighbours
//
// Between blocks there is no pivoting, because for the matrices of interest
// none is needed: if every element is passive and no mixture of pure inductance
// and pure capacitance cancels, the numbers xᴴ·A·x lie in a sector narrower than
// half a turn, a singular leading block would then have a null vector that is a
// null vector of A, and so a regular A has regular pivot blocks in every order.
// A delta winding's own block is singular only if the matrix is.
//
// Three things are checked all the same, since a study may hold a series
// capacitor, a resonance or a mistake:
//
//   - A pivot below weakPivot times its row's sum of magnitudes in A is weak.
//     Weak pivots cost nothing when there are none.
//   - A weak pivot whose elimination lets its neighbours grow more than
//     largeGrowth times is in the wrong place: the node and the neighbour that
//     it couples to most strongly are merged into one larger pivot block, the
//     smaller graph is ordered again, and the factorisation is repeated. Merged
//     blocks are pivoted across, so that in the limit this is plain Gaussian
//     elimination with partial pivoting.
//   - A weak pivot without growth is either a small but true admittance to
//     earth, or the rounding error of a zero. Inverse iteration gives the
//     vector x that belongs to it; if |A·x| is no more than rounding error in
//     every row, A is singular to working precision and a *SingularError names
//     the nodes where x is large. This is the backward-error criterion: some
//     matrix within rounding of A has x in its null space.
//
// # Vectors
//
// Vectors hold the conductors of node 0, then those of node 1, and so on:
// conductor r of node i is entry Offset(i)+r. Several right-hand sides follow
// each other, each of length Dim.
//
// # Reproducibility and sharing
//
// The same calls in the same order give the same bits on one machine, whatever
// GOMAXPROCS is. An *Analysis is read-only once made. A *Matrix, *Factor or
// *Selected may be read (solved with) by several goroutines at once, but not
// while Add, AddAt, Clear or Refactor changes it.
//
// Sources: P. Amestoy, T. Davis, I. Duff, "An approximate minimum degree
// ordering algorithm", SIAM J. Matrix Anal. Appl. 17 (1996); J. Liu, "The role
// of elimination trees in sparse factorization", SIAM J. Matrix Anal. Appl. 11
// (1990); K. Takahashi, J. Fagan, M. Chen, "Formation of a sparse bus impedance
// matrix and its application to short circuit study", PICA 1973; W. Oettli,
// W. Prager, Numer. Math. 6 (1964), for the backward error; N. Higham, "FORTRAN
// codes for estimating the one-norm of a real or complex matrix", ACM TOMS 14
// (1988) [all from memory].
package sparse
