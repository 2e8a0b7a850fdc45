/* The open method `shell`. */
#include "base/method.h"
#include "body/shell_case.h"

extern const struct method body_method_shell;
const struct method body_method_shell = {
    .name = "shell",
    .title = "Works out how a thin sheet with its laths, rods and ties bends, curls and bears load",
    .source =
        "J.-L. Batoz, K.-J. Bathe, L.-W. Ho, Int. J. Numer. Meth. Engng 15 (1980) 1771-1812; "
        "D. Magisano, L. Leonetti, G. Garcea, Int. J. Numer. Meth. Engng 109 (2017) 1237-1262",
    .text = "Large displacements, small strains, layered orthotropic material, natural curvature "
            "and strain. "
            "Shear through the thickness is left out, so the sheet must be thin against its size "
            "(1 to 10 or "
            "thinner) and loads at a point are blunt answers within a thickness or two. Membrane "
            "strain is "
            "constant in a triangle: deep shells want a finer mesh. An answer is given only for "
            "shapes in "
            "equilibrium; otherwise the forces left over are told.",
    .in = &case_shell_kind,
    .out = &case_result_kind,
    .run = body_shell_case,
    .example = "{\"geometry\": {\"kind\": \"rectangle\", \"width\": 350, \"height\": 700, "
               "\"divide_u\": 8, \"divide_v\": 16},\n"
               " \"layers\": [{\"thickness\": 6, \"e1\": 500, \"e2\": 1200, \"nu12\": 0.15, "
               "\"g12\": 250, \"density\": 0.6}],\n"
               " \"natural\": [{\"curvature\": [0.0055555556, 0, 0]}],\n"
               " \"hold\": true,\n"
               " \"ask\": [{\"name\": \"curvature\", \"what\": \"mean_curvature\"},\n"
               "         {\"name\": \"chord\", \"what\": \"distance\", \"at\": {\"points\": [[0, "
               "350, 0]]},\n"
               "          \"other\": {\"points\": [[350, 350, 0]]}}]}"};
