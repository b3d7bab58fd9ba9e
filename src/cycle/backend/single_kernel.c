/* Pipe kernel in single precision: pipe_cell.h over the cells of all pipes, one or two a vector. Compiled once per level; see vector_single.h. */
#include "cycle/backend/single_level.h"
#include "cycle/backend/pipe_cell.h"
#undef double
#undef ew_pipes
#undef ew_pipe_physics

#define CELLS (EW_VECTOR / EW_LANES) /* a vector */

#ifdef EW_HALF_LEVEL
#define EW_HALF(thing) EW_PASTE(thing, EW_HALF_LEVEL)
ew_single_part EW_HALF(primitives_part), EW_HALF(predict_part), EW_HALF(riemann_part),
    EW_HALF(update_part);
void EW_HALF(ends)(struct ew_pipes *pipes, struct ew_end *ends, int n, struct ew_end_node *nodes,
                   const double *step_s);
void EW_HALF(junction)(struct ew_pipes *pipes, struct ew_end *ends, const int *members, int n,
                       double *pressure_pa);
#define REST(part, all, first, cells)                                                              \
  if ((cells) % CELLS)                                                                             \
  EW_HALF(part)(all, (first) + (cells)-1, 1)
#else
#define EW_HALF(thing) EW_NAME(thing)
#define REST(part, all, first, cells)
#endif

/* Elements e of the whole vectors of a stretch of cells. */
#define EACH_VECTOR(first, cells)                                                                  \
  for (gsize e = (gsize)(first)*EW_LANES, end_ = e + (gsize)((cells) / CELLS) * EW_VECTOR;         \
       e < end_; e += EW_VECTOR)

static V steps_of(const double *step_s) {
  V step;
  for (int i = 0; i < EW_VECTOR; i++)
    step[i] = (float)step_s[i % EW_LANES];
  return step;
}

void EW_NAME(primitives_part)(const struct ew_single_range *all, int first, int cells) {
  V rate = splat(0);
  EACH_VECTOR(first, cells) {
    primitives_of(all->pipes, e, 0, &rate);
  }
  for (int i = 0; i < EW_VECTOR; i++)
    if (rate[i] > all->wave_rate[i % EW_LANES])
      all->wave_rate[i % EW_LANES] = rate[i];
  REST(primitives_part, all, first, cells);
}

void EW_NAME(predict_part)(const struct ew_single_range *all, int first, int cells) {
  V step = steps_of(all->step_s);
  EACH_VECTOR(first, cells) {
    predict_cell(all->pipes, e, 0, step);
  }
  REST(predict_part, all, first, cells);
}

void EW_NAME(riemann_part)(const struct ew_single_range *all, int first, int cells) {
  EACH_VECTOR(first, cells) {
    riemann_face(all->pipes, e);
  }
  REST(riemann_part, all, first, cells);
}

void EW_NAME(update_part)(const struct ew_single_range *all, int first, int cells) {
  V step = steps_of(all->step_s);
  struct ew_single_physics physics = {(float)all->physics->friction, (float)all->physics->heat};
  EACH_VECTOR(first, cells) {
    update_cell(all->pipes, e, step, &physics);
  }
  REST(update_part, all, first, cells);
}

/* The state's rows are its caller's, and may be others at the next call. */
static struct ew_pipes_single *bound(struct ew_pipes *p) {
  struct ew_pipes_single *s = p->single;
  for (int k = 0; k < EW_CONSERVED; k++)
    s->conserved[k] = p->conserved[k];
  s->temperature = p->primitive[EW_TEMPERATURE];
  s->wall_k = p->wall_k;
  s->heat_j = p->heat_j;
  s->conductance = p->conductance;
  s->conductance_k = p->conductance_k;
  return s;
}

static void each_pipe(struct ew_pipes *p, ew_single_part *part, int more,
                      const struct ew_single_range *all) {
  for (int i = 0; i < p->pipes; i++)
    part(all, p->first[i], p->count[i] + more);
}

static void primitives(struct ew_pipes *p, double *wave_rate) {
  float rate[EW_LANES] = {0};
  struct ew_single_range all = {.pipes = bound(p), .wave_rate = rate};
  each_pipe(p, EW_NAME(primitives_part), 0, &all);
  for (int l = 0; l < EW_LANES; l++)
    wave_rate[l] = rate[l];
}

/* Ghosts as ew_pipes_fill_ghosts fills them. */
static void fill_ghosts(struct ew_pipes_single *s, int pipes) {
  for (int i = 0; i < pipes; i++) {
    gsize a = (gsize)s->first[i] * EW_LANES, b = (gsize)(s->first[i] + s->count[i] - 1) * EW_LANES;
    for (int k = 0; k < EW_RECONSTRUCTED; k++) {
      float *w = s->primitive[k];
      for (int l = 0; l < EW_LANES; l++) {
        w[a - EW_LANES + l] = 2 * w[a + l] - w[a + EW_LANES + l];
        w[b + EW_LANES + l] = 2 * w[b + l] - w[b - EW_LANES + l];
      }
    }
  }
}

static void predict(struct ew_pipes *p, const double *step_s) {
  struct ew_single_range all = {.pipes = p->single, .step_s = step_s};
  fill_ghosts(p->single, p->pipes);
  each_pipe(p, EW_NAME(predict_part), 0, &all);
}

static void riemann(struct ew_pipes *p) {
  struct ew_single_range all = {.pipes = p->single};
  each_pipe(p, EW_NAME(riemann_part), 1, &all);
}

static void update(struct ew_pipes *p, const double *step_s,
                   const struct ew_pipe_physics *physics) {
  struct ew_single_range all = {.pipes = p->single, .step_s = step_s, .physics = physics};
  each_pipe(p, EW_NAME(update_part), 0, &all);
}

static void through(const double *x, double *y, int n, int which) {
  for (int i = 0; i < n; i += EW_VECTOR)
    store(y + i, which ? exponential(load(x + i)) : logarithm(load(x + i)));
}

static void logarithms(const double *x, double *y, int n) {
  through(x, y, n, 0);
}

static void exponentials(const double *x, double *y, int n) {
  through(x, y, n, 1);
}

const struct ew_kernel EW_NAME(set) = {
    .name = "single",
    .doubles = EW_VECTOR,
    .single = 1,
    .primitives = primitives,
    .predict = predict,
    .riemann = riemann,
    .update = update,
    .ends = EW_HALF(ends),
    .junction = EW_HALF(junction),
    .logarithm = logarithms,
    .exponential = exponentials,
};
