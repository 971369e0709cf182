; nothing
(to do)
;
()
;;;
