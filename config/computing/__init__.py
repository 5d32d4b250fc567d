"""Every computation of the shop by name: values in, values out, for `manage.py compute`."""
