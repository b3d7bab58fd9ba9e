/* Times of kernels by the device's own clock. See opencl_profile.h. */
#include "cycle/backend/opencl_profile.h"
#include <string.h>

#define EVENTS_MOST 4096
#define NAMES_MOST  16
#define PROFILING   2u /* CL_QUEUE_PROFILING_ENABLE */
#define STARTED     0x1282u
#define ENDED       0x1283u

static struct {
  gboolean on;
  int events;
  cl_event event[EVENTS_MOST];
  int of[EVENTS_MOST];
  int names;
  const char *name[NAMES_MOST];
  double seconds[NAMES_MOST];
  gint64 calls[NAMES_MOST];
  GMutex lock;
} profile;

void ew_opencl_profile(void) {
  profile.on = TRUE;
}

uint64_t ew_opencl_profiling(void) {
  return profile.on ? PROFILING : 0;
}

static int number_of(const char *name) {
  for (int i = 0; i < profile.names; i++)
    if (strcmp(profile.name[i], name) == 0)
      return i;
  g_assert(profile.names < NAMES_MOST);
  profile.name[profile.names] = name;
  return profile.names++;
}

void *ew_opencl_event(const char *name) {
  if (!profile.on)
    return NULL;
  g_mutex_lock(&profile.lock);
  void *event = NULL;
  if (profile.events < EVENTS_MOST) {
    profile.of[profile.events] = number_of(name);
    event = &profile.event[profile.events++];
  }
  g_mutex_unlock(&profile.lock);
  return event;
}

void ew_opencl_events_done(const struct ew_opencl *o) {
  if (!profile.on)
    return;
  g_mutex_lock(&profile.lock);
  for (int i = 0; i < profile.events; i++) {
    uint64_t began = 0, ended = 0;
    if (o->GetEventProfilingInfo(profile.event[i], STARTED, sizeof began, &began, NULL) == 0 &&
        o->GetEventProfilingInfo(profile.event[i], ENDED, sizeof ended, &ended, NULL) == 0) {
      profile.seconds[profile.of[i]] += 1e-9 * (double)(ended - began);
      profile.calls[profile.of[i]]++;
    }
    o->ReleaseEvent(profile.event[i]);
  }
  profile.events = 0;
  g_mutex_unlock(&profile.lock);
}

gboolean ew_opencl_profiled(int n, const char **name, double *seconds, gint64 *calls) {
  if (n < 0 || n >= profile.names)
    return FALSE;
  *name = profile.name[n];
  *seconds = profile.seconds[n];
  *calls = profile.calls[n];
  return TRUE;
}
