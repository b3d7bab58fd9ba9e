/* Pipe kernel: pipe_cell.h over all cells and lanes. Compiled once per vector level; see kernel.h. */
#include "cycle/backend/kernel_level.h"
#include "cycle/backend/vector.h"

typedef double *ew_row, *ew_field;
#define ew_gas_energy(p, part, i, lane) (&(p)->gas->energy[part][i][lane])
#define ew_gas_constant(p, part, lane)  (&(p)->gas->constant[part][lane])
#define ew_gas_coldest(p, lane)         ((p)->gas->coldest + (lane))
#define ew_gas_hottest(p, lane)         ((p)->gas->hottest + (lane))
#define ew_temperature(p)               ((p)->primitive[EW_TEMPERATURE])
#define ew_live(p, e)                   (*(const I *)((p)->live + (e)))
#include "cycle/backend/pipe_cell.h"

/* Visit the field in blocks of eight elements: all real cells of each pipe in lanes, everything in one
 * run with stride 1 (ghosts come along and are masked). `extra` adds faces behind the last cell. */
#define EACH_BLOCK(p, extra, ...)                                                                  \
  for (int pipe_ = 0; pipe_ < ((p)->stride == 1 ? 1 : (p)->pipes); pipe_++) {                      \
    gsize from_ = (p)->stride == 1 ? 0 : (gsize)(p)->first[pipe_] * EW_LANES;                      \
    gsize to_ = (p)->stride == 1 ? ((p)->elements + 7) / 8 * 8                                     \
                                 : from_ + (gsize)((p)->count[pipe_] + (extra)) * EW_LANES;        \
    for (gsize block_ = from_; block_ < to_; block_ += EW_LANES)                                   \
      for (int lane = 0; lane < (p)->lanes; lane += EW_VECTOR) {                                   \
        gsize e = block_ + lane;                                                                   \
        __VA_ARGS__                                                                                \
      }                                                                                            \
  }

static void primitives(struct ew_pipes *p, double *wave_rate) {
  V rate[EW_LANES / EW_VECTOR];
  for (int k = 0; k < EW_LANES / EW_VECTOR; k++)
    rate[k] = splat(0);
  EACH_BLOCK(p, 0, primitives_of(p, e, lane, &rate[lane / EW_VECTOR]);)
  for (int k = 0; k < EW_LANES / EW_VECTOR; k++)
    store(wave_rate + k * EW_VECTOR, rate[k]);
}

static void predict(struct ew_pipes *p, const double *step_s) {
  EACH_BLOCK(p, 0, predict_cell(p, e, lane, load(step_s + lane));)
}

static void riemann(struct ew_pipes *p) {
  EACH_BLOCK(p, 1, riemann_face(p, e);)
}

static void update(struct ew_pipes *p, const double *step_s,
                   const struct ew_pipe_physics *physics) {
  EACH_BLOCK(p, 0, update_cell(p, e, load(step_s + lane), physics);)
}

static void logarithms(const double *x, double *y, int n) {
  for (int i = 0; i < n; i += EW_VECTOR)
    store(y + i, logarithm(load(x + i)));
}

static void exponentials(const double *x, double *y, int n) {
  for (int i = 0; i < n; i += EW_VECTOR)
    store(y + i, exponential(load(x + i)));
}

const struct ew_kernel EW_KERNEL = {
    .name = EW_LEVEL_NAME,
    .doubles = EW_VECTOR,
    .half = EW_HALF,
    .primitives = primitives,
    .predict = predict,
    .riemann = riemann,
    .update = update,
    .ends = EW_NAME(ends),
    .junction = EW_NAME(junction),
    .logarithm = logarithms,
    .exponential = exponentials,
};
