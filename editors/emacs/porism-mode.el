;;; porism-mode.el --- Mathematics notes that check, drill and examine  -*- lexical-binding: t; -*-

;; Version: 0.1.0
;; Package-Requires: ((emacs "28.1"))
;; Keywords: languages, tex
;; SPDX-License-Identifier: MIT OR Apache-2.0

;;; Commentary:

;; A major mode for Porism notes: colours, indentation, comments, outline.  The server is
;; started by Eglot (see porism-eglot.el beside this file); README.md tells how.

;;; Code:

(require 'seq)
(require 'subr-x)

(defgroup porism nil
  "Mathematics notes that check, drill and examine."
  :group 'text)

(defcustom porism-program '("porism" "serve" "--stdio")
  "The command line that starts the server: program and arguments."
  :type '(repeat string))

(defcustom porism-notebook nil
  "The folder of all your notes, if they are not in a repository.
Without it, the notebook is the repository, or the folder of the file."
  :type '(choice (const :tag "The folder of the file" nil) directory))

;;; Faces

(defface porism-kind '((t :inherit font-lock-keyword-face))
  "Face of the sign and the word that open a block.")
(defface porism-title '((t :inherit font-lock-function-name-face :weight bold))
  "Face of the title of a block or heading.")
(defface porism-key '((t :inherit font-lock-variable-name-face))
  "Face of the key of a field.")
(defface porism-date '((t :inherit font-lock-constant-face))
  "Face of dates.")
(defface porism-right '((t :inherit success))
  "Face of what went well in a record.")
(defface porism-partly '((t :inherit warning))
  "Face of what went half well in a record.")
(defface porism-wrong '((t :inherit error))
  "Face of what went wrong in a record.")
(defface porism-math '((t :inherit font-lock-string-face))
  "Face of formulas.")
(defface porism-tex-command '((t :inherit font-lock-builtin-face))
  "Face of TeX commands in formulas.")

;;; Colours

(defconst porism-kinds
  '("course" "exam" "topic" "pattern" "problem" "theorem" "definition" "paper" "question")
  "The words that open a block.")

(defconst porism-keys
  '("answer" "by" "confused with" "covers" "cue" "drawn" "finished" "for" "fresh"
    "from" "hint" "homework" "learned" "length" "mark" "method" "mine" "minutes" "notes" "of" "off"
    "on" "pages" "pattern" "points" "proof" "questions" "quiz" "recorded" "reduces to"
    "result" "room" "seed" "shape" "solution" "spotted" "start" "started" "target" "term"
    "text" "topic" "tried" "uid" "weight" "zone")
  "The keys of fields.")

(defconst porism--amount
  "\\$[0-9][0-9,]*\\(?:\\.[0-9]+\\)?\\(?:[][ \t.,;:!?)\"'/–—’”…-]\\|$\\)"
  "What may be an amount of money.")

(defun porism--amount-p (start)
  "Whether the `$' at START is the sign of an amount of money."
  (save-excursion
    (goto-char start)
    (and (looking-at porism--amount)
         (not (looking-at "\\$[^$\n]*[^$ \t\n]\\$\\(?:[^0-9]\\|$\\)")))))

(defun porism--match-math (limit)
  "Find the next formula before LIMIT.
That is `$ … $' on a line, or `$$ … $$' in a paragraph."
  (let (found)
    (while (and (not found) (re-search-forward "\\\\.\\|%\\|\\$\\$?" limit t))
      (let ((start (match-beginning 0)))
        (cond
         ((eq (char-after start) ?\\))
         ((eq (char-after start) ?%)
          (when (nth 4 (syntax-ppss)) (forward-line 1)))
         ((= (- (point) start) 2)
          (when (looking-at
                 "\\(?:[^$\\\n]\\|\\\\.\\|\\$[^$]\\|\n[ \t]*[^][@# \t\n$]\\|\n[ \t]*\\[\\)*?\\$\\$")
            (goto-char (match-end 0))
            (setq found start)))
         ((porism--amount-p start))
         ((looking-at "\\(?:[^$\\\n]\\|\\\\.\\)*\\$")
          (goto-char (match-end 0))
          (setq found start)))))
    (when found
      (set-match-data (list found (point)))
      (> (point) found))))

(defconst porism--date "\\_<[0-9]\\{4\\}-[0-9]\\{2\\}-[0-9]\\{2\\}\\(?:[ T][0-9]\\{2\\}:[0-9]\\{2\\}\\)?"
  "A date, perhaps with a time.")

(defvar porism-font-lock-keywords
  `((,(concat "^\\(@" (regexp-opt porism-kinds) "\\)\\_>[ \t]*\\(.*\\)$")
     (1 'porism-kind)
     (2 'porism-title append))
    ("^\\(#\\{1,6\\}\\)[ \t]+\\(.*\\)$"
     (1 'porism-kind)
     (2 'porism-title append))
    (,(concat "^[ \t]+\\(" (regexp-opt porism-keys) ":\\)\\(?:[ \t]+\\(" porism--date
              "\\)\\|[ \t]\\|$\\)")
     (1 'porism-key)
     (2 'porism-date nil t))
    ;; A record ends at its remark.
    ("^[ \t]+\\(?:learned\\|mark\\|notes\\|spotted\\|tried\\):"
     ("\\_<\\(?:\\(right\\|yes\\)\\|\\(partly\\|skipped\\)\\|\\(wrong\\|no\\)\\|\\(open\\|closed\\|mock\\)\\)\\_>"
      (save-excursion (skip-chars-forward "^,\n") (point))
      nil
      (1 'porism-right nil t)
      (2 'porism-partly nil t)
      (3 'porism-wrong nil t)
      (4 'font-lock-type-face nil t)))
    (porism--match-math
     (0 'porism-math t)
     ("\\\\\\(?:[a-zA-Z]+\\|.\\)"
      (progn (goto-char (match-beginning 0)) (match-end 0))
      (goto-char (match-end 0))
      (0 'porism-tex-command t))))
  "Colours of notes.")

(defun porism--extend-region ()
  "Grow the region that is coloured to paragraphs: formulas may span lines."
  (defvar font-lock-beg)
  (defvar font-lock-end)
  (let ((start (save-excursion
                 (goto-char font-lock-beg)
                 (if (re-search-backward "^[ \t]*$" nil t) (point) (point-min))))
        (end (save-excursion
               (goto-char font-lock-end)
               (if (re-search-forward "^[ \t]*$" nil t) (point) (point-max)))))
    (prog1 (or (< start font-lock-beg) (> end font-lock-end))
      (setq font-lock-beg (min start font-lock-beg)
            font-lock-end (max end font-lock-end)))))

;;; Comments

(defvar porism-mode-syntax-table
  (let ((table (make-syntax-table text-mode-syntax-table)))
    (modify-syntax-entry ?\n ">" table)
    (modify-syntax-entry ?% "." table)
    (modify-syntax-entry ?\" "." table)
    (modify-syntax-entry ?\\ "." table)
    (modify-syntax-entry ?$ "." table)
    table)
  "Syntax table of notes.")

(defun porism--syntax-propertize (start end)
  "Mark the signs between START and END that start a comment.
That is a `%' in front of a line, or between white space outside of
formulas."
  (goto-char start)
  (beginning-of-line)
  (while (re-search-forward
          "^[ \t]*\\(%\\)\\|[ \t]\\(%\\)%*\\(?:[ \t]\\|$\\)\\|\\\\.\\|\\$\\(?:\\\\.\\|[^$\\\n]\\)*\\$"
          end t)
    (let ((sign (or (match-beginning 1) (match-beginning 2))))
      (cond
       (sign
        (put-text-property sign (1+ sign) 'syntax-table (string-to-syntax "<"))
        (forward-line 1))
       ((porism--amount-p (match-beginning 0))
        (goto-char (1+ (match-beginning 0))))))))

;;; Indentation

(defconst porism-indent 2
  "How far a block's body is indented.")

(defun porism--indentation-below ()
  "Where a new line starts, from the line above it."
  (save-excursion
    (if (/= (forward-line -1) 0)
        0
      (cond
       ((looking-at "@") porism-indent)
       ;; A field whose value is still to come.
       ((looking-at "[ \t]+[a-z][a-z ]*:[ \t]*$") (+ (current-indentation) porism-indent))
       ((looking-at "[ \t]*$") 0)
       (t (current-indentation))))))

(defun porism-indent-line ()
  "Indent a new line as the one above it; with TAB, go from stop to stop.
The stops are those of a header, of a body line, and of a line that
continues a field."
  (interactive)
  (let* ((now (current-indentation))
         (to (cond
              ((not (eq this-command 'indent-for-tab-command)) (porism--indentation-below))
              ((< now porism-indent) porism-indent)
              ((< now (* 2 porism-indent)) (* 2 porism-indent))
              (t 0))))
    (if (<= (current-column) now)
        (indent-line-to to)
      (save-excursion (indent-line-to to)))))

(defun porism-insert-at (count)
  "Insert `@' COUNT times.
At the start of a line it goes to column 0, where it opens a block."
  (interactive "p")
  (when (save-excursion (skip-chars-backward " \t") (and (bolp) (not (looking-at "[ \t]*[^ \t\n]"))))
    (delete-horizontal-space))
  (self-insert-command count ?@))

;;; Explaining

(defun porism--code-here ()
  "The code of the finding at point, from what Flymake shows."
  (when (fboundp 'flymake-diagnostics)
    (seq-some (lambda (finding)
                (let ((text (flymake-diagnostic-text finding)))
                  (and (string-match "porism \\[\\([^]]+\\)\\]" text) (match-string 1 text))))
              (flymake-diagnostics (line-beginning-position) (1+ (line-end-position))))))

(declare-function flymake-diagnostics "flymake")
(declare-function flymake-diagnostic-text "flymake")

(defun porism-explain (code)
  "Show what the check with CODE is about; without a code, list all checks."
  (interactive
   (let ((here (porism--code-here)))
     (list (read-string (if here (format "Explain check (%s): " here) "Explain check (all): ")
                        nil nil (or here "")))))
  (let ((program (car porism-program)))
    (unless (executable-find program)
      (user-error "Cannot run %s: install it, or set `porism-program'" program))
    (with-current-buffer (get-buffer-create "*porism explain*")
      (let ((inhibit-read-only t))
        (erase-buffer)
        (apply #'call-process program nil t nil "explain"
               (if (string-empty-p code) nil (list code)))
        (goto-char (point-min)))
      (special-mode)
      (display-buffer (current-buffer)))))

;;; The mode

(autoload 'porism-draw-paper "porism-eglot" "Draw a mock test for an exam." t)
(autoload 'porism-draw-drill "porism-eglot" "Draw a drill sheet on a pattern or a topic." t)
(autoload 'porism-draw-spotting "porism-eglot" "Draw a spotting round." t)
(autoload 'porism-record-marks "porism-eglot" "Record the marks of this paper." t)
(autoload 'porism-show-answers "porism-eglot" "Show the answers of this paper." t)
(autoload 'porism-show-reasons "porism-eglot" "Show why these questions were chosen." t)
(autoload 'porism-plan "porism-eglot" "Plan the days left." t)
(autoload 'porism-write-calendar "porism-eglot" "Write a calendar file." t)
(autoload 'porism-another-like-this "porism-eglot" "Add another problem like this one." t)

(defvar porism-mode-map
  (let ((map (make-sparse-keymap)))
    (define-key map "@" #'porism-insert-at)
    (define-key map (kbd "C-c C-d") #'porism-draw-paper)
    (define-key map (kbd "C-c C-t") #'porism-draw-drill)
    (define-key map (kbd "C-c C-s") #'porism-draw-spotting)
    (define-key map (kbd "C-c C-r") #'porism-record-marks)
    (define-key map (kbd "C-c C-a") #'porism-show-answers)
    (define-key map (kbd "C-c C-w") #'porism-show-reasons)
    (define-key map (kbd "C-c C-p") #'porism-plan)
    (define-key map (kbd "C-c C-n") #'porism-another-like-this)
    (define-key map (kbd "C-c C-e") #'porism-explain)
    map)
  "Keys of notes.")

;;;###autoload
(define-derived-mode porism-mode text-mode "Porism"
  "Major mode for mathematics notes."
  (setq-local comment-start "% "
              comment-start-skip "%+[ \t]*"
              comment-end ""
              syntax-propertize-function #'porism--syntax-propertize
              font-lock-defaults '(porism-font-lock-keywords)
              font-lock-multiline t
              indent-tabs-mode nil
              indent-line-function #'porism-indent-line
              ;; How deep a line stands decides what it belongs to: lines stay where they are.
              indent-region-function #'ignore
              electric-indent-inhibit t
              outline-regexp "#\\{1,6\\} \\|@[a-z]"
              imenu-generic-expression
              (mapcar (lambda (kind)
                        (list (capitalize kind) (format "^@%s[ \t]+\\(.*\\)$" kind) 1))
                      porism-kinds))
  (add-hook 'font-lock-extend-region-functions #'porism--extend-region nil t))

;;;###autoload
(add-to-list 'auto-mode-alist '("\\.porism\\'" . porism-mode))

(with-eval-after-load 'eglot
  (require 'porism-eglot))

;;; The notebook

(defun porism-project (folder)
  "The notebook that FOLDER belongs to, for `project-find-functions'.
Repositories come first, as their function stands before this one."
  (when (derived-mode-p 'porism-mode)
    (let ((name (directory-file-name (expand-file-name folder))))
      (cons 'transient
            (file-name-as-directory
             (cond
              ((and porism-notebook (file-in-directory-p name porism-notebook))
               (expand-file-name porism-notebook))
              ;; Drawn papers lie in a folder beside the notes.
              ((equal (file-name-nondirectory name) "papers") (file-name-directory name))
              (t name)))))))

(with-eval-after-load 'project
  (add-hook 'project-find-functions #'porism-project 90))

(provide 'porism-mode)
;;; porism-mode.el ends here
