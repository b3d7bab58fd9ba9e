/* What the shared sources need of C, in OpenCL C 1.2. See opencl.c. */
#pragma OPENCL EXTENSION cl_khr_fp64 : enable
#pragma OPENCL FP_CONTRACT OFF
#define EW_ON_DEVICE 1

typedef ulong uint64_t;
typedef long int64_t;
typedef int gboolean;
typedef uint guint;
typedef uint gsize; /* within one pack */
#define TRUE  1
#define FALSE 0
#undef NULL
#define NULL  0
#define G_PI    3.1415926535897932384626433832795028841971693993751
#define G_SQRT2 1.4142135623730950488016887242096980785696718753769
#define G_N_ELEMENTS(a)     (sizeof(a) / sizeof((a)[0]))
#define MIN(a, b)           ((a) < (b) ? (a) : (b))
#define MAX(a, b)           ((a) > (b) ? (a) : (b))
#define CLAMP(x, low, high) ((x) > (high) ? (high) : (x) < (low) ? (low) : (x))
#define g_assert(x)
#undef NAN
#define NAN       as_double(0x7ff8000000000000UL)
#define INT64_MAX LONG_MAX
#define INT64_MIN LONG_MIN

/* names of ours that are words of OpenCL C, of a later one where a compiler takes them for those all the same */
#define pipe     pipe_of
#define half     half_of
#define constant constant_of_it
#define clamp    within
#define any      any_of
#define mix      mixed

/* One lane an item. In single precision (EW_SINGLE) cells and ends calculate in it and what lives for a step only is kept in it; the
 * state, what is added to it step by step, nodes and cylinders stay double. */
typedef __global double *ew_row;
typedef double S;
#ifdef EW_SINGLE
typedef float V;
typedef int I;
typedef uint U;
typedef __global float *ew_field;
#define as_bits   as_int
#define as_number as_float
#else
typedef double V;
typedef long I;
typedef ulong U;
typedef __global double *ew_field;
#define as_bits   as_long
#define as_number as_double
#endif
typedef int M;
typedef __constant int *ew_indices;
#define INLINE static inline
#define EW_LANES 8
#define load(p)         ((V)*(p))
#define store(p, x)     (*(p) = (x))
#define load_sum(p)     (*(p))
#define store_sum(p, x) (*(p) = (x))
#define added(a, b)     ((a) + (b))
#define divided(a, b)   ((a) / (b))
#define narrowed(a)     (a)
#define number_of(x)    ((V)(x))
INLINE I bits_of(V x) {
  return as_bits(x);
}
INLINE V of_bits(I x) {
  return as_number(x);
}
INLINE V splat(double x) {
  return x;
}
INLINE M over(V a, V b) {
  return a > b ? -1 : 0;
}
INLINE V pick(M mask, V yes, V no) {
  return mask ? yes : no;
}
INLINE V least(V a, V b) {
  return a < b ? a : b;
}
INLINE V most(V a, V b) {
  return a > b ? a : b;
}
INLINE V root(V x) {
  return sqrt(x);
}
INLINE int any(M mask) {
  return mask != 0;
}
