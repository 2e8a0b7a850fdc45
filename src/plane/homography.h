/* homography: from a photograph of a flat thing to millimetres.
 *
 * x ~ H X in homogeneous coordinates. The linear fit is made in shifted and scaled coordinates
 * (Hartley, IEEE Trans. PAMI 19 (1997) 580-593), then polished on the distances in the image by
 * damped Gauss-Newton. Lens distortion must be gone before; everything must lie in one plane: a
 * point z above it at distance D from the foot of the camera axis and camera height H moves by
 * D z/(H - z). Never measure outside the control points.
 */
#ifndef RELICT_PLANE_HOMOGRAPHY_H
#define RELICT_PLANE_HOMOGRAPHY_H

#include "base/error.h"
#include "plane/point.h"

#include <stdbool.h>

struct plane_homography {
    double h[9];       /* row-major, h[8] = 1 where possible: plane (mm) to image (pixels) */
    double inverse[9]; /* image to plane */
    double rms;        /* pixels: root mean square distance in the image; 0 with four points */
    double pointing;   /* pixels: sd of one coordinate, from the misfit (n > 4) or as given */
    double cov[81];    /* covariance of h as scaled above (9x9, singular in the scale) */
    size_t n;
};

/* Fits n >= 4 pairs. pointing: sd of pointing one coordinate in pixels, used when n == 4 (NAN: no
 * error follows then). Refuses fewer than four and pairs of which fewer than four are in general
 * position (every triangle under 1e-4 of the extent squared counts as a line). */
int plane_homography_fit(struct plane_homography *out, const struct plane_point *plane,
                         const struct plane_point *image, size_t n, double pointing,
                         struct error *err);

/* Plane to image. */
struct plane_point plane_homography_map(const double h[9], struct plane_point p);

/* Image to plane, with the sd (mm, root of the summed variances of x and y) from the fit and from
 * pointing at p itself; NAN when the fit has no error. u may be NULL. */
struct plane_point plane_homography_measure(const struct plane_homography *h, struct plane_point p,
                                            double *u);

#endif
