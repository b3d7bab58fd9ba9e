/* How long each kernel takes on the device itself, for benchmarks: nothing is counted, and costs nothing, until it is asked for. Where
 * two batches take turns their kernels run beside each other, and each one's time is longer for it. */
#pragma once
#include "cycle/backend/opencl_loader.h"

/* From now on, for batches opened after it. */
void ew_opencl_profile(void);
/* Properties of a queue. */
uint64_t ew_opencl_profiling(void);
/* Where the next kernel's event goes; NULL when nothing is counted. */
void *ew_opencl_event(cl_queue queue, const char *name);
/* All that were enqueued there are done: their times are added up. */
void ew_opencl_events_done(const struct ew_opencl *opencl, cl_queue queue);
/* The queue is released. */
void ew_opencl_profile_leave(cl_queue queue);
/* Seconds and calls of the n-th kernel; FALSE beyond the last. */
gboolean ew_opencl_profiled(int n, const char **name, double *seconds, gint64 *calls);
