; folds
