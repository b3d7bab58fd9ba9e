/* Open streams of events (server-sent events, WHATWG HTML 9.2). Each viewer has a queue of its own: one that
 * does not read loses the oldest frames, never the half of one, and nobody waits for it. */
#include "serve/http_parts.h"
#include <string.h>
#include <sys/socket.h>

#define QUEUE_BYTES ((gsize)65536)
#define QUEUE_US    (5 * G_USEC_PER_SEC)

struct ew_viewer {
  struct ew_http *http;
  struct MHD_Connection *connection;
  GQueue frames; /* struct frame* */
  const ew_language *language;
  gboolean here; /* the person at this machine */
  gsize bytes, offset;
  gboolean waiting; /* for a frame; the library does not look at the connection meanwhile */
  gboolean gone;    /* hung up, by either side */
};

struct frame {
  GBytes *bytes;
  gint64 at;
};

static void frame_free(gpointer data) {
  struct frame *frame = data;
  g_bytes_unref(frame->bytes);
  g_free(frame);
}

static ssize_t read_events(void *user, uint64_t position, char *buffer, size_t most) {
  (void)position;
  struct ew_viewer *v = user;
  struct frame *frame = g_queue_peek_head(&v->frames);
  if (v->gone)
    return MHD_CONTENT_READER_END_WITH_ERROR;
  if (!frame && v->http->closing)
    return MHD_CONTENT_READER_END_OF_STREAM;
  if (!frame) {
    v->waiting = TRUE;
    MHD_suspend_connection(v->connection);
    return 0;
  }
  gsize size;
  const char *data = g_bytes_get_data(frame->bytes, &size);
  gsize count = MIN(most, size - v->offset);
  g_assert(v->offset + count <= size && size <= v->bytes);
  memcpy(buffer, data + v->offset, count);
  v->offset += count;
  if (v->offset == size) {
    v->bytes -= size;
    v->offset = 0;
    frame_free(g_queue_pop_head(&v->frames));
  }
  return (ssize_t)count;
}

static void viewer_free(void *user) {
  struct ew_viewer *v = user;
  g_ptr_array_remove_fast(v->http->viewers, v);
  g_queue_clear_full(&v->frames, frame_free);
  g_free(v);
}

static void wake(struct ew_viewer *v) {
  if (v->waiting)
    MHD_resume_connection(v->connection);
  v->waiting = FALSE;
}

/* Its place is free at the next turn of the library, not when the next frame would have failed. */
static void hang_up(struct ew_viewer *v) {
  struct ew_peer *peer = ew_peer_of(v->connection);
  v->gone = TRUE;
  wake(v);
  if (peer)
    shutdown(peer->fd, SHUT_RDWR);
}

static gboolean has_closed(const struct ew_viewer *v) {
  const struct ew_peer *peer = ew_peer_of(v->connection);
  char byte;
  return peer && recv(peer->fd, &byte, 1, MSG_PEEK | MSG_DONTWAIT) == 0;
}

/* The frame that is half sent stays; of the others the oldest go when there are too many. */
static void push_frame(struct ew_viewer *v, GBytes *bytes) {
  while (v->bytes > QUEUE_BYTES && v->frames.length > 1) {
    struct frame *old = g_queue_pop_nth(&v->frames, 1);
    v->bytes -= g_bytes_get_size(old->bytes);
    frame_free(old);
  }
  struct frame *frame = g_new(struct frame, 1);
  *frame = (struct frame){g_bytes_ref(bytes), g_get_monotonic_time()};
  g_queue_push_tail(&v->frames, frame);
  v->bytes += g_bytes_get_size(bytes);
  g_assert(v->frames.length > 0 && v->bytes >= g_bytes_get_size(bytes));
  wake(v);
}

static void publish_bytes(struct ew_http *h, GBytes *bytes) {
  for (guint i = 0; i < h->viewers->len; i++)
    push_frame(g_ptr_array_index(h->viewers, i), bytes);
  ew_http_pump(h);
}

void ew_http_publish(struct ew_http *h, const char *event, const char *data) {
  g_autofree char *text = g_strdup_printf("event: %s\ndata: %s\n\n", event, data);
  g_autoptr(GBytes) bytes = g_bytes_new(text, strlen(text));
  publish_bytes(h, bytes);
}

static gboolean reads_alike(const struct ew_viewer *a, const struct ew_viewer *b) {
  return a->language == b->language && a->here == b->here;
}

/* Whether a viewer before this one gets the same. */
static gboolean is_repeated(const struct ew_http *h, guint i) {
  g_assert(i < h->viewers->len);
  for (guint k = 0; k < i; k++)
    if (reads_alike(h->viewers->pdata[k], h->viewers->pdata[i]))
      return TRUE;
  return FALSE;
}

static void publish_alike(struct ew_http *h, const struct ew_viewer *first, const char *event,
                          const char *data) {
  g_autofree char *text = g_strdup_printf("event: %s\ndata: %s\n\n", event, data);
  g_autoptr(GBytes) bytes = g_bytes_new(text, strlen(text));
  for (guint i = 0; i < h->viewers->len; i++) {
    struct ew_viewer *v = h->viewers->pdata[i];
    if (reads_alike(v, first))
      push_frame(v, bytes);
  }
}

void ew_http_publish_each(struct ew_http *h, const char *event,
                          char *(*write)(gpointer user, gboolean here), gpointer user) {
  for (guint i = 0; i < h->viewers->len; i++) {
    if (is_repeated(h, i))
      continue;
    const struct ew_viewer *first = h->viewers->pdata[i];
    const ew_language *former = ew_language_of_thread(first->language);
    g_autofree char *data = write(user, first->here);
    ew_language_of_thread(former);
    publish_alike(h, first, event, data);
  }
  ew_http_pump(h);
}

guint ew_http_viewers(const struct ew_http *h) {
  return h->viewers->len;
}

gboolean ew_http_on_heartbeat(gpointer user) {
  g_autoptr(GBytes) beat = g_bytes_new_static(": still here\n\n", 14);
  publish_bytes(user, beat);
  return G_SOURCE_CONTINUE;
}

enum MHD_Result ew_http_open_events(struct ew_http *h, struct MHD_Connection *connection,
                                    const struct ew_request *request) {
  struct ew_viewer *v = g_new0(struct ew_viewer, 1);
  v->http = h;
  v->connection = connection;
  v->language = request->language ? request->language : ew_language_english();
  v->here = request->from_here;
  g_ptr_array_add(h->viewers, v);
  g_autoptr(GBytes) hello = g_bytes_new_static("retry: 1000\nevent: hello\ndata: {}\n\n", 35);
  push_frame(v, hello);
  int small = 32768;
  setsockopt(ew_peer_of(connection)->fd, SOL_SOCKET, SO_SNDBUF, &small, sizeof small);
  struct MHD_Response *response =
      MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 4096, read_events, v, viewer_free);
  struct ew_reply head = {.type = "text/event-stream"};
  ew_http_add_headers(response, &head);
  MHD_add_response_header(response, "X-Accel-Buffering",
                          "no"); /* a server in front holds nothing back */
  enum MHD_Result done = MHD_queue_response(connection, 200, response);
  MHD_destroy_response(response);
  return done;
}

void ew_http_wake_viewers(struct ew_http *h) {
  for (guint i = 0; i < h->viewers->len; i++)
    wake(g_ptr_array_index(h->viewers, i));
}

void ew_http_hang_up_peer(struct ew_http *h, const struct ew_peer *peer) {
  for (guint i = 0; i < h->viewers->len; i++) {
    struct ew_viewer *v = g_ptr_array_index(h->viewers, i);
    if (ew_peer_of(v->connection) == peer)
      hang_up(v);
  }
}

void ew_http_hang_up_viewers(struct ew_http *h) {
  for (guint i = 0; i < h->viewers->len; i++)
    hang_up(g_ptr_array_index(h->viewers, i));
}

void ew_http_end_idle_viewers(struct ew_http *h, gint64 now) {
  for (guint i = 0; i < h->viewers->len; i++) {
    struct ew_viewer *v = g_ptr_array_index(h->viewers, i);
    const struct frame *head = g_queue_peek_head(&v->frames);
    if (head ? now - head->at > QUEUE_US : v->waiting && has_closed(v))
      hang_up(v);
  }
}
