SELECT made_at, seen FROM reviews WHERE zone = $1 AND as_of = $2 ORDER BY id DESC LIMIT 1
