"""The questions, one file each: its request, its result, and `answer(request) -> result`."""
