SELECT set_config('work_mem', '64kB', true)
