/* Times KLU (SuiteSparse) on a matrix written by
 *     go test ./sparse -run TestCompare -args -compare DIR
 * and compares its solution with ours. See README.md. */
#define _DEFAULT_SOURCE
#include <malloc.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <suitesparse/klu.h>

enum { RUNS = 20, MANY = 60 };

/* Processor time of the thread, as on our side. */
static double now_ms(void) {
	struct timespec t;
	clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
	return 1e3 * t.tv_sec + 1e-6 * t.tv_nsec;
}

static void fail(const char *what) {
	fprintf(stderr, "klu: %s\n", what);
	exit(1);
}

static FILE *open_part(const char *stem, const char *part, char *header, size_t size) {
	char name[4096];
	snprintf(name, sizeof name, "%s.%s.mtx", stem, part);
	FILE *f = fopen(name, "r");
	if (!f || !fgets(header, (int)size, f)) fail(name);
	return f;
}

static double *read_vector(const char *stem, const char *part, int n) {
	char header[256];
	FILE *f = open_part(stem, part, header, sizeof header);
	int rows, cols;
	if (fscanf(f, "%d %d", &rows, &cols) != 2 || rows != n || cols != 1) fail("vector of another length");
	double *v = malloc(2 * sizeof *v * n);
	for (int i = 0; i < n; i++)
		if (fscanf(f, "%lf %lf", &v[2 * i], &v[2 * i + 1]) != 2) fail("short vector");
	fclose(f);
	return v;
}

/* Best of RUNS of a statement, in ms; the clean-up is not timed. */
#define BEST(result, statement, cleanup)                  \
	do {                                              \
		result = INFINITY;                        \
		for (int run = 0; run < RUNS; run++) {    \
			double t0 = now_ms();             \
			statement;                        \
			double t = now_ms() - t0;         \
			if (t < result) result = t;       \
			cleanup;                          \
		}                                         \
	} while (0)

int main(int argc, char **argv) {
	if (argc != 2) fail("usage: klu STEM   (reads STEM.A.mtx, STEM.b.mtx, STEM.x.mtx)");
	/* Keep freed memory: fetching it from the system anew in each run would take
	 * three quarters of the time of the analysis. */
	mallopt(M_MMAP_THRESHOLD, 1 << 30);
	mallopt(M_TRIM_THRESHOLD, 2000000000);
	mallopt(M_TOP_PAD, 1 << 29);

	char header[256];
	FILE *f = open_part(argv[1], "A", header, sizeof header);
	int n, cols, nz;
	if (strcmp(header, "%%MatrixMarket matrix coordinate complex general\n") != 0 ||
	    fscanf(f, "%d %d %d", &n, &cols, &nz) != 3 || n != cols)
		fail("not a square complex coordinate matrix");
	int *row = malloc(sizeof *row * nz), *col = malloc(sizeof *col * nz);
	double *val = malloc(2 * sizeof *val * nz);
	for (int k = 0; k < nz; k++) {
		if (fscanf(f, "%d %d %lf %lf", &row[k], &col[k], &val[2 * k], &val[2 * k + 1]) != 4) fail("short matrix");
		row[k]--;
		col[k]--;
	}
	fclose(f);

	/* Compressed columns with ascending rows: sort by row, then by column. */
	int *ap = calloc(n + 1, sizeof *ap), *ai = malloc(sizeof *ai * nz);
	int *rp = calloc(n + 1, sizeof *rp), *byrow = malloc(sizeof *byrow * nz);
	double *ax = malloc(2 * sizeof *ax * nz);
	for (int k = 0; k < nz; k++) rp[row[k] + 1]++, ap[col[k] + 1]++;
	for (int i = 0; i < n; i++) rp[i + 1] += rp[i], ap[i + 1] += ap[i];
	int *next = malloc(sizeof *next * n);
	memcpy(next, rp, sizeof *next * n);
	for (int k = 0; k < nz; k++) byrow[next[row[k]]++] = k;
	memcpy(next, ap, sizeof *next * n);
	for (int q = 0; q < nz; q++) {
		int k = byrow[q], p = next[col[k]]++;
		ai[p] = row[k];
		ax[2 * p] = val[2 * k];
		ax[2 * p + 1] = val[2 * k + 1];
	}

	klu_common common;
	klu_defaults(&common);
	klu_symbolic *symbolic;
	klu_numeric *numeric;
	double analyse, factor, refactor, solve, many;
	BEST(analyse, symbolic = klu_analyze(n, ap, ai, &common), klu_free_symbolic(&symbolic, &common));
	symbolic = klu_analyze(n, ap, ai, &common);
	if (!symbolic) fail("analysis failed");
	BEST(factor, numeric = klu_z_factor(ap, ai, ax, symbolic, &common), klu_z_free_numeric(&numeric, &common));
	numeric = klu_z_factor(ap, ai, ax, symbolic, &common);
	if (!numeric) fail("factorisation failed");
	BEST(refactor, if (!klu_z_refactor(ap, ai, ax, symbolic, numeric, &common)) fail("refactorisation failed"), );

	double *b = read_vector(argv[1], "b", n), *ours = read_vector(argv[1], "x", n);
	double *x = malloc(2 * sizeof *x * n), *y = malloc(2 * sizeof *y * n * MANY);
	memcpy(x, b, 2 * sizeof *x * n);
	BEST(solve, klu_z_solve(symbolic, numeric, n, 1, x, &common), memcpy(x, b, 2 * sizeof *x * n));
	klu_z_solve(symbolic, numeric, n, 1, x, &common);
	for (int c = 0; c < MANY; c++) memcpy(y + 2 * (size_t)n * c, b, 2 * sizeof *x * n);
	BEST(many, klu_z_solve(symbolic, numeric, n, MANY, y, &common), );

	double most = 0, apart = 0;
	for (int i = 0; i < n; i++) {
		most = fmax(most, hypot(ours[2 * i], ours[2 * i + 1]));
		apart = fmax(apart, hypot(ours[2 * i] - x[2 * i], ours[2 * i + 1] - x[2 * i + 1]));
	}
	printf("unknowns %d entries %d: analyse %.3f, factor %.3f, refactor %.3f, solve %.3f, solve %d %.3f ms (best of %d); largest difference from ours %.2g of the largest entry\n",
	       n, nz, analyse, factor, refactor, solve, MANY, many, RUNS, apart / most);
	return 0;
}
