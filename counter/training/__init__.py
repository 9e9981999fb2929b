"""How the weights of the network that looks at rims are made (extra ``train``).

``python -m counter.training rims FOLDER RIMS.npz`` cuts the rims of rendered
photos; ``python -m counter.training train RIMS.npz ... FOLDER`` trains.
"""
