#include "body/body_methods.h"

extern const struct method body_method_mesh;  /* mesh_method.c */
extern const struct method body_method_shell; /* shell_method.c */

static const struct method *const list[] = {
    &body_method_mesh,
    &body_method_shell,
};

const struct method_list body_methods = METHODS(list);
