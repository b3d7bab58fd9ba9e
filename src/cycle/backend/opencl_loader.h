/* The part of the OpenCL interface that opencl.c uses, found in the loader at run time. Prototypes are our own, after the Khronos
 * specification (OpenCL 1.2, chapters 4 and 5), so that neither headers nor a library are needed to build. Internal to
 * src/cycle/backend. */
#pragma once
#include <glib.h>
#include <stdint.h>

typedef struct cl_platform *cl_platform;
typedef struct cl_device *cl_device;
typedef struct cl_context *cl_context;
typedef struct cl_queue *cl_queue;
typedef struct cl_program *cl_program;
typedef struct cl_kernel *cl_kernel;
typedef struct cl_mem *cl_mem;
typedef struct cl_event *cl_event;

#define CL_DEVICE_TYPE_GPU           (1u << 2)
#define CL_DEVICE_TYPE_ALL           0xffffffffu
#define CL_DEVICE_TYPE               0x1000u
#define CL_DEVICE_MAX_MEM_ALLOC_SIZE 0x1010u
#define CL_DEVICE_ADDRESS_BITS       0x100du
#define CL_DEVICE_GLOBAL_MEM_SIZE    0x101fu
#define CL_DEVICE_ENDIAN_LITTLE      0x1026u
#define CL_DEVICE_NAME               0x102bu
#define CL_DEVICE_DOUBLE_FP_CONFIG   0x1032u
#define CL_FP_ROUND_TO_NEAREST_AND_MORE                                                            \
  0x3fu /* denormals, infinity and NaN, all roundings, fused */
#define CL_MEM_READ_WRITE    1u
#define CL_PROGRAM_BUILD_LOG 0x1183u

/* name, result, arguments */
#define EW_OPENCL_FUNCTIONS(X)                                                                     \
  X(GetPlatformIDs, int32_t, (uint32_t, cl_platform *, uint32_t *))                                \
  X(GetDeviceIDs, int32_t, (cl_platform, uint64_t, uint32_t, cl_device *, uint32_t *))             \
  X(GetDeviceInfo, int32_t, (cl_device, uint32_t, size_t, void *, size_t *))                       \
  X(CreateContext, cl_context,                                                                     \
    (const intptr_t *, uint32_t, const cl_device *, void *, void *, int32_t *))                    \
  X(CreateCommandQueue, cl_queue, (cl_context, cl_device, uint64_t, int32_t *))                    \
  X(ReleaseCommandQueue, int32_t, (cl_queue))                                                      \
  X(CreateProgramWithSource, cl_program,                                                           \
    (cl_context, uint32_t, const char **, const size_t *, int32_t *))                              \
  X(BuildProgram, int32_t,                                                                         \
    (cl_program, uint32_t, const cl_device *, const char *, void *, void *))                       \
  X(GetProgramBuildInfo, int32_t, (cl_program, cl_device, uint32_t, size_t, void *, size_t *))     \
  X(CreateKernel, cl_kernel, (cl_program, const char *, int32_t *))                                \
  X(SetKernelArg, int32_t, (cl_kernel, uint32_t, size_t, const void *))                            \
  X(ReleaseKernel, int32_t, (cl_kernel))                                                           \
  X(CreateBuffer, cl_mem, (cl_context, uint64_t, size_t, void *, int32_t *))                       \
  X(ReleaseMemObject, int32_t, (cl_mem))                                                           \
  X(EnqueueWriteBuffer, int32_t,                                                                   \
    (cl_queue, cl_mem, uint32_t, size_t, size_t, const void *, uint32_t, const void *, void *))    \
  X(EnqueueReadBuffer, int32_t,                                                                    \
    (cl_queue, cl_mem, uint32_t, size_t, size_t, void *, uint32_t, const void *, void *))          \
  X(EnqueueNDRangeKernel, int32_t,                                                                 \
    (cl_queue, cl_kernel, uint32_t, const size_t *, const size_t *, const size_t *, uint32_t,      \
     const void *, void *))                                                                        \
  X(GetEventProfilingInfo, int32_t, (cl_event, uint32_t, size_t, void *, size_t *))                \
  X(ReleaseEvent, int32_t, (cl_event))                                                             \
  X(Flush, int32_t, (cl_queue))                                                                    \
  X(Finish, int32_t, (cl_queue))

struct ew_opencl {
#define X(name, result, arguments) result(*name) arguments;
  EW_OPENCL_FUNCTIONS(X)
#undef X
  cl_device device;
  cl_context context;
  char name[128];
  uint64_t memory, largest; /* bytes: all, and of one buffer */
};

/* The device in use, found and its program compiled at the first call; NULL when there is none, with why in ew_opencl_why_not. */
const struct ew_opencl *ew_opencl_device(void);
/* Its program, cells and ends in double or in single precision; compiled at the first call. NULL when it cannot be. */
cl_program ew_opencl_program(gboolean single);
