/* Packs of lanes on a device: memory, what a lane's plan decides, steps. Layout: opencl_shape.h; kernels: opencl_steps.cl.
 *
 * A batch is the memory of many packs of one shape; each pack is a work of its own to its caller. A call of step takes the states of
 * all packs to the device, enqueues steps until half of the lanes have ended their cycle (the others go on in the next call, so that
 * lanes of other speeds do not wait for the slowest), and takes the states back: some 140 kB a pack each way, a hundredth of the time
 * of a cycle. The state at the host is changed only by what came back whole: when the device gives up, the packs go on on the
 * processor from there, with the same bits, and it is said.
 *
 * Costs: 1 MB a pack of a four, 2.5 MB of an eight, and 46 kB a lane and different table of a valve. */
#include "cycle/backend/opencl.h"
#include "cycle/backend/opencl_describe.h"
#include "cycle/backend/opencl_loader.h"
#include "cycle/backend/opencl_shape.h"
#include <stddef.h>
#include <string.h>

#define STEPS_A_LOOK 32  /* between two looks at how many lanes still run */
#define SHARE        0.6 /* of the device's memory */
#define MOST_GASES   16  /* that are looked for among those that are there; more get one a lane */
#define GROUP        64  /* items side by side */

_Static_assert(EW_DEVICE_TABLE == EW_VALVE_TABLE, "opencl_shape.h says how long a table is");
_Static_assert(sizeof(struct ew_lane_gas) == sizeof(double[EW_GAS_ROWS][EW_LANES]),
               "rows of the gas");
_Static_assert(EW_STATE_GROUPS == 9, "opencl_shape.h has nine rows and pitches");

enum kernel {
  PRIMITIVES,
  WAVES,
  NODES,
  PREDICT,
  RIEMANN,
  ENDS,
  JUNCTIONS,
  UPDATE,
  GATHER,
  FINISH,
  KERNELS
};
static const char *const kernel_names[KERNELS] = {"primitives",   "waves", "nodes",     "predict",
                                                  "riemann",      "ends",  "junctions", "update",
                                                  "gather_nodes", "finish"};
enum buffer { SHAPE, STATE, FIXED, FIELD, TABLES, FRAMES, GASES, BUFFERS };

struct batch {
  const struct ew_opencl *o;
  cl_queue queue;  /* its own: batches of several threads do not wait for each other */
  int packs, open; /* works of it that are not closed */
  int32_t *shape;  /* words, then lists */
  gsize shape_words;
  cl_mem buffer[BUFFERS], running;
  cl_kernel kernel[KERNELS], count;
  GArray *
      gases; /* struct ew_working_gas: the different ones on the device, lanes' own behind MOST_GASES */
  struct ew_pipes *pipes; /* to work out geometry in; one load at a time */
  GMutex loading;
  gsize bytes[BUFFERS];
  gboolean gave_up; /* the processor goes on */
  double seconds;
};

struct ew_cycle_work {
  struct batch *batch;
  int pack;
  double (*fixed)[EW_LANES]; /* this pack's block, as the device is to have it */
  gboolean changed;
  const struct ew_cycle_laid *laid[EW_LANES];
  double speed_rpm[EW_LANES];
  int gas[EW_LANES];         /* among those of the batch */
  struct ew_cycle_work *own; /* of the processor, once the device has given up */
  const struct ew_cycle_backend *processor;
};

/* ---- shape ---- */

static int word(const struct batch *b, enum ew_shape_word word) {
  return b->shape[word];
}

static int tables_of(const struct ew_cycle_laid *laid, int valves) {
  int most = 0;
  for (int v = 0; v < valves; v++)
    most = MAX(most, laid->table[v] + 1);
  return MAX(most, 1);
}

/* ---- memory ---- */

static void sizes(struct batch *b, int packs) {
  gsize lanes = (gsize)packs * EW_LANES, row = sizeof(double[EW_LANES]);
  b->bytes[SHAPE] = b->shape_words * sizeof(int32_t);
  b->bytes[STATE] = (gsize)packs * (gsize)word(b, EW_SHAPE_STATE_ROWS) * row;
  b->bytes[FIXED] = (gsize)packs * (gsize)word(b, EW_SHAPE_FIXED_ROWS) * row;
  b->bytes[FIELD] = (gsize)packs * (gsize)word(b, EW_SHAPE_FIELD_ROWS) * row;
  b->bytes[TABLES] =
      lanes * (gsize)MAX(word(b, EW_SHAPE_TABLES), 1) * sizeof(double[2][EW_VALVE_TABLE]);
  b->bytes[FRAMES] = lanes * (gsize)word(b, EW_SHAPE_CYLINDERS) * sizeof(struct ew_cylinder_frame);
  b->bytes[GASES] = (MOST_GASES + lanes) * sizeof(struct ew_working_gas);
}

static gboolean held(const struct batch *b) {
  gsize all = 0, largest = 0;
  for (int i = 0; i < BUFFERS; i++) {
    all += b->bytes[i];
    largest = MAX(largest, b->bytes[i]);
  }
  return (double)all <= SHARE * (double)b->o->memory && largest <= b->o->largest;
}

static gboolean allocate(struct batch *b) {
  int32_t failed = 0, any = 0;
  b->queue = b->o->CreateCommandQueue(b->o->context, b->o->device, 0, &failed);
  any |= failed;
  for (int i = 0; i < BUFFERS; i++) {
    b->buffer[i] = b->o->CreateBuffer(b->o->context, CL_MEM_READ_WRITE, b->bytes[i], NULL, &failed);
    any |= failed;
  }
  b->running = b->o->CreateBuffer(b->o->context, CL_MEM_READ_WRITE, sizeof(int32_t), NULL, &failed);
  any |= failed;
  if (any == 0)
    any = b->o->EnqueueWriteBuffer(b->queue, b->buffer[SHAPE], 1, 0, b->bytes[SHAPE], b->shape, 0,
                                   NULL, NULL);
  return any == 0;
}

static gboolean make_kernels(struct batch *b) {
  int32_t failed = 0, any = 0;
  int packs = b->packs;
  for (int k = 0; k <= KERNELS; k++) {
    cl_kernel kernel =
        b->o->CreateKernel(b->o->program, k < KERNELS ? kernel_names[k] : "count_running", &failed);
    any |= failed;
    for (uint32_t i = 0; i < BUFFERS && any == 0; i++)
      any |= b->o->SetKernelArg(kernel, i, sizeof(cl_mem), &b->buffer[i]);
    if (any == 0)
      any |= b->o->SetKernelArg(kernel, BUFFERS, sizeof packs, &packs);
    if (k < KERNELS)
      b->kernel[k] = kernel;
    else
      b->count = kernel;
  }
  if (any == 0)
    any |= b->o->SetKernelArg(b->count, BUFFERS + 1, sizeof(cl_mem), &b->running);
  return any == 0;
}

static void release(struct batch *b) {
  for (int k = 0; k <= KERNELS; k++) {
    cl_kernel kernel = k < KERNELS ? b->kernel[k] : b->count;
    if (kernel)
      b->o->ReleaseKernel(kernel);
  }
  for (int i = 0; i < BUFFERS; i++)
    if (b->buffer[i])
      b->o->ReleaseMemObject(b->buffer[i]);
  if (b->running)
    b->o->ReleaseMemObject(b->running);
  if (b->queue)
    b->o->ReleaseCommandQueue(b->queue);
  g_mutex_clear(&b->loading);
  ew_pipes_free(b->pipes);
  g_array_unref(b->gases);
  g_free(b->shape);
  g_free(b);
}

int ew_opencl_open_many(const struct ew_cycle_backend *self, const struct ew_cycle_laid *shape,
                        int packs, struct ew_cycle_work **work) {
  (void)self;
  struct batch *b = g_new0(struct batch, 1);
  g_assert(packs >= 1 && ew_opencl_here());
  b->o = ew_opencl_device();
  g_mutex_init(&b->loading);
  b->shape = ew_opencl_describe(shape, &b->shape_words);
  b->gases = g_array_new(FALSE, FALSE, sizeof(struct ew_working_gas));
  b->pipes = ew_pipes_new(EW_LANES, shape->pipes, shape->count);
  for (sizes(b, packs); packs > 1 && !held(b); sizes(b, packs))
    packs -= (packs + 7) / 8;
  b->packs = b->open = packs;
  b->shape[EW_SHAPE_PACKS] = packs;
  gboolean ready = allocate(b) && make_kernels(b);
  for (int p = 0; p < packs; p++) {
    work[p] = g_new0(struct ew_cycle_work, 1);
    work[p]->batch = b;
    work[p]->pack = p;
    work[p]->fixed = g_malloc0(sizeof(double[EW_LANES]) * (gsize)word(b, EW_SHAPE_FIXED_ROWS));
  }
  if (!ready) {
    b->gave_up = TRUE;
    g_warning("%s gives no memory for %d packs: the processor does the work", b->o->name, packs);
  }
  return packs;
}

struct ew_cycle_work *ew_opencl_open(const struct ew_cycle_backend *self,
                                     const struct ew_cycle_laid *shape) {
  struct ew_cycle_work *work;
  ew_opencl_open_many(self, shape, 1, &work);
  return work;
}

void ew_opencl_close(struct ew_cycle_work *w) {
  if (w->own)
    w->processor->close(w->own);
  if (--w->batch->open == 0)
    release(w->batch);
  g_free(w->fixed);
  g_free(w);
}

/* ---- what a lane's plan decides ---- */

static void set_cells(struct ew_cycle_work *w, int l, const struct ew_cycle_laid *laid) {
  struct ew_pipes *p = w->batch->pipes;
  const struct ew_plan_pipe *pipe = ew_plan_pipes(laid->plan);
  const double *const word_of[EW_FIXED_CELL_WORDS] = {[EW_FIXED_AREA] = p->area_m2,
                                                      [EW_FIXED_INVERSE_LENGTH] = p->inverse_length,
                                                      [EW_FIXED_AREA_SLOPE] = p->area_slope,
                                                      [EW_FIXED_LOSS] = p->loss_per_m,
                                                      [EW_FIXED_INVERSE_VOLUME] = p->inverse_volume,
                                                      [EW_FIXED_INVERSE_DIAMETER] =
                                                          p->inverse_diameter,
                                                      [EW_FIXED_WALL_M2] = p->wall_m2,
                                                      [EW_FIXED_HEAT_FACTOR] = p->heat_factor};
  for (int i = 0; i < laid->pipes; i++) {
    int first = laid->first[i];
    g_autofree double *factor = g_new(double, laid->count[i]);
    for (int c = 0; c < laid->count[i]; c++)
      factor[c] = laid->heat_factor[first + c] * laid->plan->pipe_heat;
    ew_pipes_shape(p, i, l, pipe[i].length_m, laid->face_diameter_m + first + i, pipe[i].bend_loss,
                   laid->wall_k + first, factor);
  }
  int cells = word(w->batch, EW_SHAPE_CELLS);
  for (int k = 0; k < EW_FIXED_CELL_WORDS; k++)
    for (int c = 0; c < p->cells; c++)
      w->fixed[k * cells + c][l] = word_of[k][(gsize)c * EW_LANES + (gsize)l];
}

static void set_rows(struct ew_cycle_work *w, int l, const struct ew_cycle_laid *laid) {
  const struct ew_cycle_plan *plan = laid->plan;
  const struct batch *b = w->batch;
  const struct ew_plan_pipe *pipe = ew_plan_pipes(plan);
  double(*row)[EW_LANES] = w->fixed + EW_FIXED_CELL_WORDS * word(b, EW_SHAPE_CELLS);
  const double lane[EW_FIXED_LANE_WORDS] = {plan->cfl, plan->injected_j_kg, laid->gas.fuel_share,
                                            plan->pipe_friction, w->gas[l]};
  for (int k = 0; k < EW_FIXED_LANE_WORDS; k++)
    (*row++)[l] = lane[k];
  ew_pipes_set_gas(b->pipes, l, &laid->gas);
  const double(*gas)[EW_LANES] = (const double(*)[EW_LANES])(const void *)b->pipes->gas;
  for (int k = 0; k < EW_GAS_ROWS; k++)
    (*row++)[l] = gas[k][l];
  for (int k = 0; k < EW_FIXED_CYLINDER_WORDS; k++)
    for (int i = 0; i < word(b, EW_SHAPE_CYLINDERS); i++) {
      const struct ew_plan_cylinder *c = &ew_plan_cylinders(plan)[i];
      (*row++)[l] = k == EW_FIXED_FIRING      ? c->shape.firing_deg
                    : k == EW_FIXED_SHUT_FROM ? c->shut_from_deg
                                              : c->shut_to_deg;
    }
  for (int v = 0; v < word(b, EW_SHAPE_VOLUMES); v++)
    (*row++)[l] = ew_plan_volumes(plan)[v].volume_m3;
  for (int v = 0; v < word(b, EW_SHAPE_VALVES); v++)
    (*row++)[l] = laid->table[v];
  for (int k = 0; k < EW_FIXED_END_WORDS; k++)
    for (int e = 0; e < word(b, EW_SHAPE_ENDS); e++) {
      enum ew_end_kind kind = (enum ew_end_kind)pipe[e / 2].end[e % 2].kind;
      gboolean mouth = kind == EW_END_ATMOSPHERE || kind == EW_END_VOLUME;
      (*row++)[l] = mouth ? pipe[e / 2].end[e % 2].opening : 0;
    }
}

static gboolean send(const struct batch *b, enum buffer buffer, gsize at, gsize bytes,
                     const void *from) {
  return b->o->EnqueueWriteBuffer(b->queue, b->buffer[buffer], 1, at, bytes, from, 0, NULL, NULL) ==
         0;
}

/* Openings, cylinders and the gas go to the device at once: nobody else's lie beside them. */
static gboolean send_lane(struct ew_cycle_work *w, int l, const struct ew_cycle_laid *laid,
                          double speed_rpm) {
  const struct batch *b = w->batch;
  gsize lane = (gsize)w->pack * EW_LANES + (gsize)l, one = sizeof(double[EW_VALVE_TABLE]);
  gsize most = (gsize)word(b, EW_SHAPE_TABLES);
  int tables = tables_of(laid, (int)most), cylinders = word(b, EW_SHAPE_CYLINDERS);
  gboolean good = TRUE;
  for (int t = 0; t < tables && most > 0; t++) {
    gsize at = (lane * most + (gsize)t) * 2 * one;
    good = good && send(b, TABLES, at, one, laid->open_in[t]) &&
           send(b, TABLES, at + one, one, laid->open_out[t]);
  }
  g_autofree struct ew_cylinder_frame *frame = g_new0(struct ew_cylinder_frame, cylinders);
  for (int i = 0; i < cylinders; i++)
    ew_cycle_frame_of(laid, i, speed_rpm, &frame[i]);
  gsize frames = (gsize)cylinders * sizeof *frame;
  return good && send(b, FRAMES, lane * frames, frames, frame);
}

/* The lane's gas: one that is there already, or a new one. */
static gboolean send_gas(struct ew_cycle_work *w, int l, const struct ew_cycle_laid *laid) {
  struct batch *b = w->batch;
  struct ew_working_gas gas;
  memcpy(&gas, &laid->gas, sizeof gas); /* whole, that it may be compared */
  gas.fuel.name = NULL;                 /* an address of this process */
  for (guint i = 0; i < b->gases->len; i++)
    if (memcmp(&g_array_index(b->gases, struct ew_working_gas, i), &gas, sizeof gas) == 0) {
      w->gas[l] = (int)i;
      return TRUE;
    }
  w->gas[l] = MOST_GASES + w->pack * EW_LANES + l;
  if (b->gases->len < MOST_GASES) {
    w->gas[l] = (int)b->gases->len;
    g_array_append_val(b->gases, gas);
  }
  return send(b, GASES, (gsize)w->gas[l] * sizeof gas, sizeof gas, &gas);
}

void ew_opencl_load(struct ew_cycle_work *w, int l, const struct ew_cycle_laid *laid,
                    double speed_rpm) {
  g_assert(l >= 0 && l < EW_LANES && laid->pipes == word(w->batch, EW_SHAPE_PIPES));
  w->laid[l] = laid;
  w->speed_rpm[l] = speed_rpm;
  if (w->own) {
    w->processor->load(w->own, l, laid, speed_rpm);
    return;
  }
  g_mutex_lock(&w->batch->loading);
  if (!w->batch->gave_up && !(send_gas(w, l, laid) && send_lane(w, l, laid, speed_rpm)))
    w->batch->gave_up = TRUE;
  set_cells(w, l, laid);
  set_rows(w, l, laid);
  w->changed = TRUE;
  g_mutex_unlock(&w->batch->loading);
}

/* ---- steps ---- */

static gsize rounded(int items) {
  return ((gsize)items + GROUP - 1) / GROUP * GROUP;
}

/* Items of a kernel: along a pack's cells and packs, or along all lanes and parts. */
static void range_of(const struct batch *b, enum kernel k, gsize range[2]) {
  gsize lanes = rounded(b->packs * EW_LANES);
  int nodes = word(b, EW_SHAPE_VOLUMES) + word(b, EW_SHAPE_CYLINDERS), parts = 1;
  switch (k) {
  case PRIMITIVES:
  case PREDICT:
  case UPDATE:
    range[0] = rounded(word(b, EW_SHAPE_REAL) * EW_LANES);
    range[1] = (gsize)b->packs;
    return;
  case RIEMANN:
    range[0] = rounded(word(b, EW_SHAPE_INNER) * EW_LANES);
    range[1] = (gsize)b->packs;
    return;
  case WAVES: parts = word(b, EW_SHAPE_PIPES); break;
  case NODES: parts = nodes; break;
  case ENDS: parts = word(b, EW_SHAPE_ENDS); break;
  case JUNCTIONS: parts = word(b, EW_SHAPE_JUNCTIONS); break;
  case GATHER: parts = EW_NODE_FIRST + nodes; break;
  case FINISH:
  case KERNELS: break;
  }
  range[0] = lanes;
  range[1] = (gsize)parts;
}

static gint kernels_left = -1;

void ew_opencl_gone_after(int kernels) {
  g_atomic_int_set(&kernels_left, kernels);
}

static gboolean enqueue(const struct batch *b, cl_kernel kernel, const gsize range[2]) {
  static const gsize group[2] = {GROUP, 1};
  int left = g_atomic_int_get(&kernels_left);
  if (left == 0)
    return FALSE;
  if (left > 0)
    g_atomic_int_add(&kernels_left, -1);
  return range[0] == 0 || range[1] == 0 ||
         b->o->EnqueueNDRangeKernel(b->queue, kernel, 2, NULL, range, group, 0, NULL, NULL) == 0;
}

static gboolean enqueue_step(const struct batch *b) {
  gboolean good = TRUE;
  for (int k = 0; k < KERNELS && good; k++) {
    gsize range[2];
    range_of(b, (enum kernel)k, range);
    good = enqueue(b, b->kernel[k], range);
  }
  return good;
}

/* How many lanes run and have not ended their cycle; waits for the device. Below 0: it gave up. */
static int running(const struct batch *b) {
  int32_t count = 0;
  gsize range[2];
  range_of(b, FINISH, range);
  if (b->o->EnqueueWriteBuffer(b->queue, b->running, 1, 0, sizeof count, &count, 0, NULL, NULL) !=
          0 ||
      !enqueue(b, b->count, range) ||
      b->o->EnqueueReadBuffer(b->queue, b->running, 1, 0, sizeof count, &count, 0, NULL, NULL) != 0)
    return -1;
  return count;
}

static gboolean take_there(struct ew_cycle_work *const *work, struct ew_cycle_state *const *state) {
  const struct batch *b = work[0]->batch;
  gsize row = sizeof(double[EW_LANES]), rows = (gsize)word(b, EW_SHAPE_STATE_ROWS);
  gsize fixed = (gsize)word(b, EW_SHAPE_FIXED_ROWS);
  for (int p = 0; p < b->packs; p++) {
    g_assert(state[p]->rows == rows && work[p]->pack == p);
    if (b->o->EnqueueWriteBuffer(b->queue, b->buffer[STATE], 0, (gsize)p * rows * row, rows * row,
                                 state[p]->value, 0, NULL, NULL) != 0)
      return FALSE;
    if (work[p]->changed &&
        b->o->EnqueueWriteBuffer(b->queue, b->buffer[FIXED], 0, (gsize)p * fixed * row, fixed * row,
                                 work[p]->fixed, 0, NULL, NULL) != 0)
      return FALSE;
    work[p]->changed = FALSE;
  }
  return TRUE;
}

static gboolean take_back(const struct batch *b, struct ew_cycle_state *const *state) {
  gsize row = sizeof(double[EW_LANES]), rows = (gsize)word(b, EW_SHAPE_STATE_ROWS);
  if (b->o->Finish(b->queue) != 0)
    return FALSE;
  for (int p = 0; p < b->packs; p++)
    if (b->o->EnqueueReadBuffer(b->queue, b->buffer[STATE], 0, (gsize)p * rows * row, rows * row,
                                state[p]->value, 0, NULL, NULL) != 0)
      return FALSE;
  return b->o->Finish(b->queue) == 0;
}

static gboolean step_there(struct ew_cycle_work *const *work, struct ew_cycle_state *const *state,
                           int n) {
  const struct batch *b = work[0]->batch;
  if (!take_there(work, state))
    return FALSE;
  int began = running(b), left = began;
  while (left * 2 > began && n > 0) {
    int some = MIN(n, STEPS_A_LOOK);
    for (int i = 0; i < some; i++)
      if (!enqueue_step(b))
        return FALSE;
    n -= some;
    left = running(b);
  }
  return left >= 0 && take_back(b, state);
}

/* The processor goes on from the last state that came back whole. */
static void step_here(struct ew_cycle_work *w, struct ew_cycle_state *state, int n) {
  if (!w->own) {
    int any = 0;
    while (any < EW_LANES && !w->laid[any])
      any++;
    g_assert(any < EW_LANES);
    w->processor = ew_cycle_backend_choose(NULL);
    if (!w->processor || w->processor->step_many)
      w->processor = ew_cycle_backend_named("base");
    w->own = w->processor->open(w->processor, w->laid[any]);
    for (int l = 0; l < EW_LANES; l++)
      if (w->laid[l])
        w->processor->load(w->own, l, w->laid[l], w->speed_rpm[l]);
  }
  w->processor->step(w->own, state, n);
}

void ew_opencl_step_many(struct ew_cycle_work *const *work, struct ew_cycle_state *const *state,
                         int packs, int n) {
  struct batch *b = work[0]->batch;
  g_assert(packs == b->packs && n >= 1);
  gint64 began = g_get_monotonic_time();
  if (!b->gave_up && !step_there(work, state, n)) {
    b->gave_up = TRUE;
    g_warning("%s gave up in the middle: going on on the processor", b->o->name);
  }
  if (b->gave_up)
    for (int p = 0; p < packs; p++)
      step_here(work[p], state[p], n);
  b->seconds += 1e-6 * (double)(g_get_monotonic_time() - began);
}

void ew_opencl_step(struct ew_cycle_work *w, struct ew_cycle_state *state, int n) {
  ew_opencl_step_many(&w, &state, 1, n);
}

void ew_opencl_effort(const struct ew_cycle_work *w, double seconds[3]) {
  if (w->pack == 0)
    seconds[0] += w->batch->seconds;
}
