/* Times of kernels by the device's own clock. See opencl_profile.h. */
#include "cycle/backend/opencl_profile.h"
#include <string.h>

#define EVENTS_MOST 4096
#define NAMES_MOST  16
#define QUEUES_MOST 4  /* beside each other; events of more are not counted */
#define PROFILING   2u /* CL_QUEUE_PROFILING_ENABLE */
#define STARTED     0x1282u
#define ENDED       0x1283u

/* One queue is worked by one thread, so its events need no lock. */
struct events {
  cl_queue queue;
  int count;
  cl_event event[EVENTS_MOST];
  int of[EVENTS_MOST];
};
static struct {
  gboolean on;
  struct events queue[QUEUES_MOST];
  int names;
  const char *name[NAMES_MOST];
  double seconds[NAMES_MOST];
  gint64 calls[NAMES_MOST];
  GMutex lock; /* of names, sums and the choice of a queue's place */
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

static struct events *events_of(cl_queue queue) {
  struct events *free = NULL;
  for (int i = 0; i < QUEUES_MOST; i++) {
    if (profile.queue[i].queue == queue)
      return &profile.queue[i];
    if (!profile.queue[i].queue && !free)
      free = &profile.queue[i];
  }
  if (free)
    free->queue = queue;
  return free;
}

void *ew_opencl_event(cl_queue queue, const char *name) {
  if (!profile.on)
    return NULL;
  g_mutex_lock(&profile.lock);
  struct events *events = events_of(queue);
  int number = number_of(name);
  g_mutex_unlock(&profile.lock);
  if (!events || events->count == EVENTS_MOST)
    return NULL;
  events->of[events->count] = number;
  events->event[events->count] = NULL;
  return &events->event[events->count++];
}

void ew_opencl_events_done(const struct ew_opencl *o, cl_queue queue) {
  if (!profile.on)
    return;
  g_mutex_lock(&profile.lock);
  struct events *events = events_of(queue);
  for (int i = 0; events && i < events->count; i++) {
    uint64_t began = 0, ended = 0;
    cl_event event = events->event[i];
    if (!event) /* it was refused */
      continue;
    if (o->GetEventProfilingInfo(event, STARTED, sizeof began, &began, NULL) == 0 &&
        o->GetEventProfilingInfo(event, ENDED, sizeof ended, &ended, NULL) == 0) {
      profile.seconds[events->of[i]] +=
          1e-9 * (double)(int64_t)(ended - began); /* some clocks step back by a tick */
      profile.calls[events->of[i]]++;
    }
    o->ReleaseEvent(event);
  }
  if (events)
    events->count = 0;
  g_mutex_unlock(&profile.lock);
}

void ew_opencl_profile_leave(cl_queue queue) {
  g_mutex_lock(&profile.lock);
  for (int i = 0; i < QUEUES_MOST; i++)
    if (profile.queue[i].queue == queue)
      profile.queue[i].queue = NULL;
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
