/* The memory of many packs on a device, shared by what makes and steps it (opencl.c) and what loads it (opencl_load.c). */
#pragma once
#include "cycle/backend/opencl.h"
#include "cycle/backend/opencl_loader.h"
#include "cycle/backend/opencl_shape.h"

#define EW_DEVICE_GASES 16 /* that are looked for among those that are there; more get one a lane */

enum kernel { PRIMITIVES, WAVES, NODES, PREDICT, RIEMANN, ENDS, UPDATE, LAST, KERNELS };
enum buffer { SHAPE, STATE, FIXED, FIELD, TABLES, FRAMES, GASES, BUFFERS };

struct batch {
  const struct ew_opencl *o;
  cl_queue queue;  /* its own: batches of several threads do not wait for each other */
  int packs, open; /* works of it that are not closed */
  int32_t *shape;  /* words, then lists */
  gsize shape_words;
  cl_mem buffer[BUFFERS], running;
  cl_kernel kernel[KERNELS], count;
  gboolean single; /* cells and ends in single precision */
  GArray *
      gases; /* struct ew_working_gas: the different ones on the device, lanes' own behind MOST_GASES */
  GPtrArray *spare; /* struct ew_pipes, to work out geometry in: one a thread that loads */
  GMutex loading;   /* of spare and gases */
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

static inline int word(const struct batch *b, enum ew_shape_word word) {
  return b->shape[word];
}
