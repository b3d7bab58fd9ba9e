/* Packs of lanes on a device: memory, what a lane's plan decides, steps. Layout: opencl_shape.h; kernels: opencl_steps.cl.
 *
 * A batch is the memory of many packs of one shape; each pack is a work of its own to its caller. A call of step takes the states of
 * all packs to the device, enqueues steps until half of the lanes have ended their cycle (the others go on in the next call, so that
 * lanes of other speeds do not wait for the slowest), and takes the states back: some 140 kB a pack each way, a hundredth of the time
 * of a cycle. The state at the host is changed only by what came back whole: when the device gives up, the packs go on on the
 * processor from there, with the same bits, and it is said.
 *
 * Costs: 1 MB a pack of a four, 2.5 MB of an eight, and 46 kB a lane and different table of a valve. */
#include "cycle/backend/opencl_batch.h"
#include "cycle/backend/opencl_describe.h"
#include "cycle/backend/opencl_profile.h"
#include <stddef.h>
#include <string.h>

#define STEPS_A_LOOK 32  /* between two looks at how many lanes still run */
#define SHARE        0.6 /* of the device's memory */
#define GROUP        64  /* items side by side */

_Static_assert(EW_STATE_GROUPS == 9, "opencl_shape.h has nine rows and pitches");

static const char *const kernel_names[KERNELS] = {"primitives", "waves", "nodes",  "predict",
                                                  "riemann",    "ends",  "update", "last"};

/* ---- memory ---- */

static void sizes(struct batch *b, int packs) {
  gsize lanes = (gsize)packs * EW_LANES, row = sizeof(double[EW_LANES]);
  b->bytes[SHAPE] = b->shape_words * sizeof(int32_t);
  b->bytes[STATE] = (gsize)packs * (gsize)word(b, EW_SHAPE_STATE_ROWS) * row;
  b->bytes[FIXED] = (gsize)packs * (gsize)word(b, EW_SHAPE_FIXED_ROWS) * row;
  b->bytes[FIELD] = (gsize)packs * (gsize)word(b, EW_SHAPE_FIELD_ROWS) * row;
  if (b->single)
    b->bytes[FIELD] /= 2;
  b->bytes[TABLES] =
      lanes * (gsize)MAX(word(b, EW_SHAPE_TABLES), 1) * sizeof(double[2][EW_VALVE_TABLE]);
  b->bytes[FRAMES] = lanes * (gsize)word(b, EW_SHAPE_CYLINDERS) * sizeof(struct ew_cylinder_frame);
  b->bytes[GASES] = (EW_DEVICE_GASES + lanes) * sizeof(struct ew_working_gas);
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
  b->queue = b->o->CreateCommandQueue(b->o->context, b->o->device, ew_opencl_profiling(), &failed);
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
  cl_program program = ew_opencl_program(b->single);
  if (!program)
    return FALSE;
  for (int k = 0; k <= KERNELS; k++) {
    cl_kernel kernel =
        b->o->CreateKernel(program, k < KERNELS ? kernel_names[k] : "count_running", &failed);
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
  if (b->queue) {
    ew_opencl_profile_leave(b->queue);
    b->o->ReleaseCommandQueue(b->queue);
  }
  g_mutex_clear(&b->loading);
  g_ptr_array_unref(b->spare);
  g_array_unref(b->gases);
  g_free(b->shape);
  g_free(b);
}

int ew_opencl_open_many(const struct ew_cycle_backend *self, const struct ew_cycle_laid *shape,
                        int packs, struct ew_cycle_work **work) {
  struct batch *b = g_new0(struct batch, 1);
  b->single = self->tolerance > 0;
  g_assert(packs >= 1 && ew_opencl_here());
  b->o = ew_opencl_device();
  g_mutex_init(&b->loading);
  b->shape = ew_opencl_describe(shape, &b->shape_words);
  b->gases = g_array_new(FALSE, FALSE, sizeof(struct ew_working_gas));
  b->spare = g_ptr_array_new_with_free_func((GDestroyNotify)ew_pipes_free);
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
  case ENDS: parts = word(b, EW_SHAPE_ENDS) + word(b, EW_SHAPE_JUNCTIONS); break;
  case LAST: parts = EW_NODE_FIRST + nodes + 1; break;
  case KERNELS: break;
  }
  range[0] = lanes;
  range[1] = (gsize)parts;
}

static gint kernels_left = -1;

void ew_opencl_gone_after(int kernels) {
  g_atomic_int_set(&kernels_left, kernels);
}

static gboolean enqueue(const struct batch *b, cl_kernel kernel, const char *name,
                        const gsize range[2]) {
  static const gsize group[2] = {GROUP, 1};
  int left = g_atomic_int_get(&kernels_left);
  if (left == 0)
    return FALSE;
  if (left > 0)
    g_atomic_int_add(&kernels_left, -1);
  return range[0] == 0 || range[1] == 0 ||
         b->o->EnqueueNDRangeKernel(b->queue, kernel, 2, NULL, range, group, 0, NULL,
                                    ew_opencl_event(b->queue, name)) == 0;
}

static gboolean enqueue_step(const struct batch *b) {
  gboolean good = TRUE;
  for (int k = 0; k < KERNELS && good; k++) {
    gsize range[2];
    range_of(b, (enum kernel)k, range);
    good = enqueue(b, b->kernel[k], kernel_names[k], range);
  }
  return good;
}

/* How many lanes run and have not ended their cycle; waits for the device. Below 0: it gave up. */
static int running(const struct batch *b) {
  int32_t count = 0;
  gsize range[2];
  range_of(b, KERNELS, range);
  if (b->o->EnqueueWriteBuffer(b->queue, b->running, 1, 0, sizeof count, &count, 0, NULL, NULL) !=
          0 ||
      !enqueue(b, b->count, "count_running", range) ||
      b->o->EnqueueReadBuffer(b->queue, b->running, 1, 0, sizeof count, &count, 0, NULL, NULL) != 0)
    return -1;
  ew_opencl_events_done(b->o, b->queue);
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
