/* The backend on a device that speaks OpenCL: a graphics processor, or the processor itself.
 *
 * Nothing is linked: the loader (libOpenCL.so.1) is opened at run time; without it, or without a device that calculates in double
 * precision as IEEE 754 has it, the backend is not here and costs nothing. The device's program is compiled when it is first used,
 * from the processor's own sources (script/lib/device-source), with contraction off: the same bits.
 *
 * Which device: ENGINEWRIGHT_DEVICE names it by its number, counted over all platforms; unset, the first graphics processor. */
#pragma once
#include "cycle/backend/backend.h"

/* opencl_source.c, made at build time; the second calculates cells and ends in single precision */
extern const char ew_opencl_source[], ew_opencl_single_source[];

gboolean ew_opencl_here(void);
gboolean ew_opencl_single_here(void);
struct ew_cycle_work *ew_opencl_open(const struct ew_cycle_backend *self,
                                     const struct ew_cycle_laid *shape);
void ew_opencl_load(struct ew_cycle_work *work, int lane, const struct ew_cycle_laid *laid,
                    double speed_rpm);
void ew_opencl_step(struct ew_cycle_work *work, struct ew_cycle_state *state, int n);
void ew_opencl_effort(const struct ew_cycle_work *work, double seconds[3]);
void ew_opencl_close(struct ew_cycle_work *work);

/* Many packs of one shape beside each other: work[packs], each to be loaded and closed as one alone is. At most as many as the memory
 * of the device holds; their number is returned. */
int ew_opencl_open_many(const struct ew_cycle_backend *self, const struct ew_cycle_laid *shape,
                        int packs, struct ew_cycle_work **work);
/* All of them by up to n steps each; all works of one ew_opencl_open_many, in order. */
void ew_opencl_step_many(struct ew_cycle_work *const *work, struct ew_cycle_state *const *state,
                         int packs, int n);

/* Name of the device in use, for reports; NULL when none is. */
const char *ew_opencl_device_name(void);
/* Why none is; NULL when one is. */
const char *ew_opencl_why_not(void);
/* For tests: after so many kernels the device is gone, for this process; below 0: never. */
void ew_opencl_gone_after(int kernels);
