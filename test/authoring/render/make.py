"""Make every picture of the sample job and the truth behind it. Plain Python 3; needs `blender` (3.4), numpy for it
and ImageMagick's `convert`.

    python3 make.py [work=DIR] [rounds=1] [samples=32] [only=SCENE,SCENE] [steps=render,develop,truth]

`work` keeps the scene-linear masters outside the repository. A round that is already there is not rendered again.
"""
import os
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.abspath(os.path.join(HERE, '..', '..', '..'))
SHIPPED, FIXTURES = os.path.join(ROOT, 'static', 'sample'), os.path.join(ROOT, 'test', 'fixtures', 'sample')
SCENES = ('kitchen-day', 'kitchen-day-green', 'kitchen-lamp', 'inspiration', 'board', 'slab-busy', 'slab-calm', 'slab-veined',
          'tile-ring')
# The second paint is evidence for tests, not a picture of the sample job.
TRUTH_ONLY = ('kitchen-day-green',)
QUALITY = 88


def blender(script, **arguments):
    command = ['blender', '-b', '--factory-startup', '--python-exit-code', '1', '-P', os.path.join(HERE, script), '--']
    # Blender looks for its Python by the PATH and would take a version manager's, which lacks numpy.
    system = {**os.environ, 'PATH': os.defpath + ':/usr/local/bin'}
    subprocess.run(command + [f'{k}={v}' for k, v in arguments.items()], check=True, stdout=subprocess.DEVNULL, env=system)


def main():
    a = dict(p.split('=', 1) for p in sys.argv[1:])
    work = a.get('work', os.path.join(tempfile.gettempdir(), 'brushout-render'))
    masters, pictures = os.path.join(work, 'final'), os.path.join(work, 'pictures')
    steps = a.get('steps', 'render,develop,truth').split(',')
    if 'render' in steps:
        for number in range(1, int(a.get('rounds', 1)) + 1):
            for scene in a['only'].split(',') if 'only' in a else SCENES:
                if not os.path.exists(os.path.join(masters, scene, str(number), 'image.exr')):
                    print('render', scene, 'round', number, flush=True)
                    blender('render.py', scene=scene, samples=a.get('samples', 32), round=number, out=masters)
    if 'develop' in steps:
        blender('develop.py', **{'in': masters, 'out': pictures})
        for file in sorted(os.listdir(pictures)):
            name = file[:-4]
            folder = FIXTURES if name in TRUTH_ONLY else SHIPPED
            os.makedirs(folder, exist_ok=True)
            subprocess.run(['convert', os.path.join(pictures, file), '-strip', '-sampling-factor', '1x1', '-quality',
                            str(QUALITY), os.path.join(folder, name + '.jpg')], check=True)
    if 'truth' in steps:
        blender('truth.py', **{'in': masters, 'pictures': pictures, 'out': FIXTURES})
        folder = os.path.join(FIXTURES, 'masks')
        for file in sorted(f for f in os.listdir(folder) if f.endswith('.pgm')):
            path = os.path.join(folder, file)
            subprocess.run(['convert', path, '-strip', '-define', 'png:compression-level=9',
                            '-define', 'png:compression-filter=5', path[:-4] + '.png'], check=True)
            os.remove(path)


main()
