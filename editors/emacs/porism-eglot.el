;;; porism-eglot.el --- The Porism server under Eglot  -*- lexical-binding: t; -*-

;; SPDX-License-Identifier: MIT OR Apache-2.0

;;; Commentary:

;; Starts the server for `porism-mode' with Eglot 1.9 or later, and offers its commands.

;;; Code:

(require 'cl-lib)
(require 'eglot)

(defvar porism-program)

(defclass porism-eglot-server (eglot-lsp-server) ()
  :documentation "The Porism server.")

(add-to-list 'eglot-server-programs
             (cons 'porism-mode
                   (lambda (&rest _) (cons 'porism-eglot-server porism-program))))

(defun porism-eglot--path (uri)
  "The path of the file with URI."
  ;; The function became public in Eglot 1.16.
  (funcall (if (fboundp 'eglot-uri-to-path) 'eglot-uri-to-path 'eglot--uri-to-path) uri))

(defvar eglot-confirm-server-edits)

(cl-defmethod eglot-handle-request :around
  ((_server porism-eglot-server) (_method (eql workspace/applyEdit))
   &key edit &allow-other-keys)
  "Make EDIT without a question, and show the file that it starts.
The only file that it changes is shown, too.
The server edits only when a command asks it to, and what it does can be
undone.  A question here would come in the midst of reading what the server
says, and with Emacs 28 all that arrives until the answer is lost."
  (let* ((eglot-confirm-server-initiated-edits nil)
         (eglot-confirm-server-edits nil)
         (paths (delq nil (mapcar (lambda (change)
                            (let ((document (plist-get change :textDocument)))
                              (and document (porism-eglot--path (plist-get document :uri)))))
                          (plist-get edit :documentChanges))))
         (new (seq-remove #'file-exists-p paths)))
    (dolist (path new)
      (make-directory (file-name-directory path) t))
    ;; Without a buffer, too, there would be a question.
    (mapc #'find-file-noselect paths)
    (prog1 (cl-call-next-method)
      (when (and paths (null (cdr paths)))
        (pop-to-buffer-same-window (find-buffer-visiting (car paths))))
      (dolist (path new)
        (pop-to-buffer-same-window (find-buffer-visiting path))
        (goto-char (point-min))))))

(defun porism-eglot--request (method params)
  "Send the request METHOD with PARAMS after all that was typed; give the result."
  (let ((server (eglot-current-server)))
    (unless server
      (user-error "The server does not serve this buffer: M-x eglot starts it"))
    (jsonrpc-request server method params :deferred method)))

(defun porism-eglot--execute (command &rest arguments)
  "Let the server execute COMMAND with ARGUMENTS; what comes of it arrives later."
  (porism-eglot--request :workspace/executeCommand
                         (list :command command :arguments (vconcat arguments))))

(defun porism-eglot--file ()
  "The URI of the file of this buffer."
  (plist-get (eglot--TextDocumentIdentifier) :uri))

(defconst porism-eglot--exam 24
  "How the server lists exams: the protocol's `SymbolKind.Event'.")

(defconst porism-eglot--subjects '((5 . "pattern") (3 . "topic") (24 . "exam"))
  "Kinds of symbol that a sheet may be about, each with what to call it.")

(defun porism-eglot--read-subject (prompt kinds)
  "Ask with PROMPT for a block of KINDS, words; give its course, kind and title."
  (let* ((symbols (porism-eglot--request :workspace/symbol '(:query "")))
         (found (delq nil (mapcar
                           (lambda (symbol)
                             (let ((kind (alist-get (plist-get symbol :kind) porism-eglot--subjects))
                                   (course (or (plist-get symbol :containerName) ""))
                                   (title (plist-get symbol :name)))
                               (when (member kind kinds)
                                 (cons (format "%s (%s%s)" title kind
                                               (if (string-empty-p course) ""
                                                 (concat " of " course)))
                                       (list course kind title)))))
                           symbols))))
    (unless found
      (user-error "There is no pattern in these notes yet: write @pattern with its name"))
    (cdr (assoc (completing-read prompt found nil t) found))))

(defun porism-eglot--exams ()
  "The exams of the notebook: pairs of a label and a list of course and title."
  (let ((symbols (porism-eglot--request :workspace/symbol '(:query ""))))
    (mapcar (lambda (symbol)
              (let ((course (or (plist-get symbol :containerName) ""))
                    (title (plist-get symbol :name)))
                (cons (if (string-empty-p course) title (format "%s (%s)" title course))
                      (list course title))))
            (seq-filter (lambda (symbol) (eql (plist-get symbol :kind) porism-eglot--exam))
                        symbols))))

(defun porism-eglot--read-exam ()
  "Ask for an exam, unless there is only one."
  (let ((exams (porism-eglot--exams)))
    (cond
     ((null exams)
      (user-error "There is no exam in these notes yet: write @exam with its title, and on: with its date"))
     ((null (cdr exams)) (cdar exams))
     (t (cdr (assoc (completing-read "Draw a mock test for: " exams nil t) exams))))))

;;;###autoload
(defun porism-draw-paper (exam how)
  "Draw a mock test for EXAM into a new file.
EXAM is a list of the course and the title.
HOW is `closed' or `open' (whether notes are allowed), or `theorems' for a
round of theorems; asked for with a prefix argument, else `closed'."
  (interactive
   (list (porism-eglot--read-exam)
         (if current-prefix-arg
             (intern (completing-read "How: " '("closed" "open" "theorems") nil t))
           'closed)))
  (porism-eglot--execute "porism.drawPaper" (car exam) (cadr exam)
                         (if (eq how 'open) "open" "closed")
                         nil nil
                         (if (eq how 'theorems) "theorems" nil)))

;;;###autoload
(defun porism-draw-drill (subject blocked)
  "Draw a drill sheet on SUBJECT into a new file.
SUBJECT is a list of the course, `pattern' or `topic' as a word, and the title.
With a prefix argument BLOCKED, ask one kind after the other instead of mixed."
  (interactive
   (list (porism-eglot--read-subject "Draw a drill sheet on: " '("pattern" "topic"))
         current-prefix-arg))
  (pcase-let ((`(,course ,kind ,title) subject))
    (porism-eglot--execute "porism.drawDrill" course
                           (and (equal kind "pattern") title)
                           (and (equal kind "topic") title)
                           (if blocked "blocked" "mixed"))))

;;;###autoload
(defun porism-draw-spotting (subject)
  "Draw a spotting round for SUBJECT into a new file: only the kind is named.
SUBJECT is a list: the course, one of pattern, topic and exam, and the title."
  (interactive
   (list (porism-eglot--read-subject "Draw a spotting round for: " '("exam" "topic" "pattern"))))
  (pcase-let ((`(,course ,kind ,title) subject))
    (porism-eglot--execute "porism.drawSpotting" course
                           (and (equal kind "exam") title)
                           (and (equal kind "pattern") title)
                           (and (equal kind "topic") title))))

;;;###autoload
(defun porism-record-marks (skip)
  "Write the marks of this paper back to its problems.
With a prefix argument SKIP, questions without a mark count as skipped."
  (interactive "P")
  (porism-eglot--execute "porism.recordMarks" (porism-eglot--file) ""
                         (if skip t :json-false)))

;;;###autoload
(defun porism-show-answers ()
  "Add the answers to the questions of this paper."
  (interactive)
  (porism-eglot--execute "porism.showAnswers" (porism-eglot--file) ""))

;;;###autoload
(defun porism-show-reasons ()
  "Add to each question of this drawn paper why it was chosen."
  (interactive)
  (porism-eglot--execute "porism.showReasons" (porism-eglot--file) ""))

;;;###autoload
(defun porism-plan (why relearn-first)
  "Write the plan of the days left into a file of the notes, and show it.
With WHY there is a reason below each block.  With RELEARN-FIRST all that was
never learned comes before any practice.  Both are asked for with a prefix
argument."
  (interactive
   (if current-prefix-arg
       (list (y-or-n-p "A reason for each block? ")
             (y-or-n-p "All that was never learned first? "))
     (list nil nil)))
  (porism-eglot--execute "porism.showPlan"
                         (if relearn-first t :json-false)
                         (if why t :json-false)))

;;;###autoload
(defun porism-write-calendar ()
  "Write exams, plan and mock tests into a calendar file of the notes."
  (interactive)
  (porism-eglot--execute "porism.writeCalendar" nil))

;;;###autoload
(defun porism-another-like-this ()
  "Add a problem with other numbers like the one at point, and its answer.
On a pattern, add one like its problems below the last of them."
  (interactive)
  (eglot-code-actions (point) (point) "refactor.porism.another" t))

(provide 'porism-eglot)
;;; porism-eglot.el ends here
