/* Finding a device: the loader, the choice among its devices, the program compiled. Once a process.
 *
 *   unknown --first question--> none (with the reason) | ready
 *
 * The loader stays open for the life of the process: drivers have threads of their own. */
#include "base/words.h"
#include "cycle/backend/opencl.h"
#include "cycle/backend/opencl_loader.h"
#include <dlfcn.h>
#include <stdlib.h>
#include <string.h>

#define MOST_PLATFORMS 16
#define MOST_DEVICES   64
#define OPTIONS        "-cl-std=CL1.2"

static struct ew_opencl found;
static char *why;

static void refuse(const char *format, ...) G_GNUC_PRINTF(1, 2);
static void refuse(const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_free(why);
  why = ew_words_v(format, arguments);
  va_end(arguments);
}

static gboolean open_loader(struct ew_opencl *o) {
  void *library = dlopen("libOpenCL.so.1", RTLD_NOW | RTLD_LOCAL);
  if (!library) {
    refuse("no OpenCL loader (libOpenCL.so.1)");
    return FALSE;
  }
  const struct {
    const char *name;
    void *into;
  } functions[] = {
#define X(name, result, arguments) {"cl" #name, &o->name},
      EW_OPENCL_FUNCTIONS(X)
#undef X
  };
  for (gsize i = 0; i < G_N_ELEMENTS(functions); i++) {
    void *function = dlsym(library, functions[i].name);
    if (!function) {
      refuse("the OpenCL loader has no %s", functions[i].name);
      return FALSE;
    }
    memcpy(functions[i].into, &function, sizeof function);
  }
  return TRUE;
}

static uint64_t number(const struct ew_opencl *o, cl_device device, uint32_t what, gsize bytes) {
  uint64_t value = 0; /* little-endian hosts only: the plan's words are */
  return o->GetDeviceInfo(device, what, bytes, &value, NULL) == 0 ? value : 0;
}

/* Double precision with all of IEEE 754's roundings and small numbers, addresses as ours. */
static gboolean fits(const struct ew_opencl *o, cl_device device) {
  uint64_t needed = CL_FP_ROUND_TO_NEAREST_AND_MORE;
  return (number(o, device, CL_DEVICE_DOUBLE_FP_CONFIG, 8) & needed) == needed &&
         number(o, device, CL_DEVICE_ADDRESS_BITS, 4) == 8 * sizeof(void *) &&
         number(o, device, CL_DEVICE_ENDIAN_LITTLE, 4) == 1;
}

static gboolean choose(struct ew_opencl *o) {
  cl_platform platform[MOST_PLATFORMS];
  cl_device device[MOST_DEVICES];
  uint32_t platforms = 0, devices = 0;
  if (o->GetPlatformIDs(MOST_PLATFORMS, platform, &platforms) != 0)
    platforms = 0;
  for (uint32_t i = 0; i < MIN(platforms, MOST_PLATFORMS) && devices < MOST_DEVICES; i++) {
    uint32_t more = 0;
    if (o->GetDeviceIDs(platform[i], CL_DEVICE_TYPE_ALL, MOST_DEVICES - devices, device + devices,
                        &more) == 0)
      devices = MIN(devices + more, MOST_DEVICES);
  }
  const char *wanted = g_getenv("ENGINEWRIGHT_DEVICE");
  int chosen = -1;
  if (wanted && *wanted) {
    char *end;
    guint64 n = g_ascii_strtoull(wanted, &end, 10);
    if (*end || !g_ascii_isdigit(*wanted) || n >= devices || !fits(o, device[n])) {
      refuse("ENGINEWRIGHT_DEVICE is '%s': %s; %u found, counted from 0", wanted,
             *end || n >= devices ? "no device has this number"
                                  : "that device does not calculate in double precision",
             devices);
      return FALSE;
    }
    chosen = (int)n;
  }
  for (uint32_t i = 0; i < devices && chosen < 0; i++)
    if ((number(o, device[i], CL_DEVICE_TYPE, 8) & CL_DEVICE_TYPE_GPU) && fits(o, device[i]))
      chosen = (int)i;
  for (uint32_t i = 0; i < devices && chosen < 0; i++)
    if (fits(o, device[i]))
      chosen = (int)i;
  if (chosen < 0) {
    refuse(devices ? "no OpenCL device calculates in double precision" : "no OpenCL device");
    return FALSE;
  }
  o->device = device[chosen];
  o->GetDeviceInfo(o->device, CL_DEVICE_NAME, sizeof o->name - 1, o->name, NULL);
  o->memory = number(o, o->device, CL_DEVICE_GLOBAL_MEM_SIZE, 8);
  o->largest = number(o, o->device, CL_DEVICE_MAX_MEM_ALLOC_SIZE, 8);
  return TRUE;
}

static gboolean make_context(struct ew_opencl *o) {
  int32_t failed = 0;
  o->context = o->CreateContext(NULL, 1, &o->device, NULL, NULL, &failed);
  if (failed != 0)
    refuse("%s gives no context (OpenCL error %d)", o->name, failed);
  return failed == 0;
}

static cl_program compile(const struct ew_opencl *o, const char *source, const char *options) {
  int32_t failed = 0;
  cl_program program = o->CreateProgramWithSource(o->context, 1, &source, NULL, &failed);
  if (failed == 0)
    failed = o->BuildProgram(program, 1, &o->device, options, NULL, NULL);
  if (failed == 0)
    return program;
  char log[4000] = "";
  if (program)
    o->GetProgramBuildInfo(program, o->device, CL_PROGRAM_BUILD_LOG, sizeof log - 1, log, NULL);
  refuse("%s does not compile the program (OpenCL error %d): %s", o->name, failed, log);
  return NULL;
}

cl_program ew_opencl_program(gboolean single) {
  static gsize once[2];
  static cl_program program[2];
  int i = single ? 1 : 0;
  if (g_once_init_enter(&once[i])) {
    program[i] = compile(&found, single ? ew_opencl_single_source : ew_opencl_source, OPTIONS);
    g_once_init_leave(&once[i], 1);
  }
  return program[i];
}

const struct ew_opencl *ew_opencl_device(void) {
  static gsize once;
  if (g_once_init_enter(&once)) {
    gboolean ready =
        open_loader(&found) && choose(&found) && make_context(&found) && ew_opencl_program(FALSE);
    g_once_init_leave(&once, ready ? 1 : 2);
  }
  return once == 1 ? &found : NULL;
}

gboolean ew_opencl_here(void) {
  return ew_opencl_device() != NULL;
}

gboolean ew_opencl_single_here(void) {
  return ew_opencl_device() != NULL && ew_opencl_program(TRUE) != NULL;
}

const char *ew_opencl_device_name(void) {
  const struct ew_opencl *device = ew_opencl_device();
  return device ? device->name : NULL;
}

const char *ew_opencl_why_not(void) {
  return ew_opencl_device() ? NULL : why;
}
