/* A disk that fails when it is told to: a VFS of our own below SQLite, for one test program each. */
#pragma once
#include <gio/gio.h>
#include <sqlite3.h>

static struct {
  enum { NONE, FULL, TORN, SYNC } kind;
  gint budget;  /* calls until it fails */
  gint failing; /* so many fail then; G_MAXINT: for good */
  gint failed;
  gboolean stalled, waited; /* syncs wait until it is over; one did */
} fault;
static GMutex fault_mutex;
static GCond fault_over;

struct fault_file {
  sqlite3_file base;
  sqlite3_file *real;
};
#define REAL(file) (((struct fault_file *)(file))->real)
static sqlite3_vfs *under;

static gboolean fails(gboolean sync) {
  g_mutex_lock(&fault_mutex);
  gboolean now = FALSE;
  if (fault.kind != NONE && (fault.kind == SYNC) == sync && fault.budget-- <= 0 &&
      fault.failing > 0) {
    if (fault.failing != G_MAXINT)
      fault.failing--;
    fault.failed++;
    now = TRUE;
  }
  g_mutex_unlock(&fault_mutex);
  return now;
}

static int f_write(sqlite3_file *f, const void *data, int size, sqlite3_int64 at) {
  if (!fails(FALSE))
    return REAL(f)->pMethods->xWrite(REAL(f), data, size, at);
  if (fault.kind == FULL)
    return SQLITE_FULL;
  REAL(f)->pMethods->xWrite(REAL(f), data, size / 3, at);
  return SQLITE_IOERR_WRITE;
}
static void stall(void) {
  g_mutex_lock(&fault_mutex);
  while (fault.stalled) {
    fault.waited = TRUE;
    g_cond_wait(&fault_over, &fault_mutex);
  }
  g_mutex_unlock(&fault_mutex);
}
G_GNUC_UNUSED static void set_stall(gboolean on) {
  g_mutex_lock(&fault_mutex);
  fault.stalled = on;
  fault.waited &= on;
  g_cond_broadcast(&fault_over);
  g_mutex_unlock(&fault_mutex);
}
G_GNUC_UNUSED static gboolean somebody_waits(void) {
  g_mutex_lock(&fault_mutex);
  gboolean waits = fault.waited;
  g_mutex_unlock(&fault_mutex);
  return waits;
}
static int f_sync(sqlite3_file *f, int flags) {
  stall();
  return fails(TRUE) ? SQLITE_IOERR_FSYNC : REAL(f)->pMethods->xSync(REAL(f), flags);
}
static int f_close(sqlite3_file *f) {
  return REAL(f)->pMethods->xClose(REAL(f));
}
static int f_read(sqlite3_file *f, void *data, int size, sqlite3_int64 at) {
  return REAL(f)->pMethods->xRead(REAL(f), data, size, at);
}
static int f_truncate(sqlite3_file *f, sqlite3_int64 size) {
  return REAL(f)->pMethods->xTruncate(REAL(f), size);
}
static int f_size(sqlite3_file *f, sqlite3_int64 *size) {
  return REAL(f)->pMethods->xFileSize(REAL(f), size);
}
static int f_lock(sqlite3_file *f, int how) {
  return REAL(f)->pMethods->xLock(REAL(f), how);
}
static int f_unlock(sqlite3_file *f, int how) {
  return REAL(f)->pMethods->xUnlock(REAL(f), how);
}
static int f_reserved(sqlite3_file *f, int *is) {
  return REAL(f)->pMethods->xCheckReservedLock(REAL(f), is);
}
static int f_control(sqlite3_file *f, int what, void *with) {
  return REAL(f)->pMethods->xFileControl(REAL(f), what, with);
}
static int f_sector(sqlite3_file *f) {
  return REAL(f)->pMethods->xSectorSize(REAL(f));
}
static int f_device(sqlite3_file *f) {
  return REAL(f)->pMethods->xDeviceCharacteristics(REAL(f));
}
static int f_map(sqlite3_file *f, int page, int size, int extend, void volatile **at) {
  return REAL(f)->pMethods->xShmMap(REAL(f), page, size, extend, at);
}
static int f_shm_lock(sqlite3_file *f, int offset, int n, int flags) {
  return REAL(f)->pMethods->xShmLock(REAL(f), offset, n, flags);
}
static void f_barrier(sqlite3_file *f) {
  REAL(f)->pMethods->xShmBarrier(REAL(f));
}
static int f_unmap(sqlite3_file *f, int drop) {
  return REAL(f)->pMethods->xShmUnmap(REAL(f), drop);
}

static const sqlite3_io_methods methods = {
    2,          f_close,   f_read,   f_write,  f_truncate, f_sync,     f_size,    f_lock,  f_unlock,
    f_reserved, f_control, f_sector, f_device, f_map,      f_shm_lock, f_barrier, f_unmap,
};

static int f_open(sqlite3_vfs *vfs, sqlite3_filename name, sqlite3_file *file, int flags,
                  int *out) {
  struct fault_file *f = (struct fault_file *)file;
  (void)vfs;
  f->real = (sqlite3_file *)(f + 1);
  int how = under->xOpen(under, name, f->real, flags, out);
  f->base.pMethods = f->real->pMethods ? &methods : NULL;
  return how;
}

static void install(void) {
  set_stall(FALSE); /* whatever a test before left */
  static sqlite3_vfs ours;
  if (under)
    return;
  under = sqlite3_vfs_find(NULL);
  ours = *under;
  ours.zName = "faults";
  ours.szOsFile += (int)sizeof(struct fault_file);
  ours.xOpen = f_open;
  sqlite3_vfs_register(&ours, 1);
}

static void set_fault(int kind, int budget, int failing) {
  g_mutex_lock(&fault_mutex);
  fault.kind = kind;
  fault.budget = budget;
  fault.failing = failing;
  fault.failed = 0;
  g_mutex_unlock(&fault_mutex);
}
