using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>The band in one playing of a section: each part's decisions that span more than a bar. Made when a bar of the run is first
/// requested; always the same for the same chart, random seed and run.</summary>
internal sealed class RunBand
{
    private readonly bool _everyone;
    private readonly IReadOnlyList<ChordShape>?[] _shapes;
    private readonly RollWriter?[] _rolls;
    private readonly IReadOnlyList<BassNote>?[] _basses;
    private readonly SustainLine?[] _sustains;
    private readonly IReadOnlyList<TuneLine>[] _tunes;
    private readonly ByBar<BassNote>?[] _bassesByBar;
    private readonly ByBar<HeldNote>?[] _sustainsByBar;
    private readonly IReadOnlyList<ByBar<TuneLineNote>>[] _tunesByBar;

    public RunBand(FormPlan plan, SectionRun run, IReadOnlyList<Part> parts, IReadOnlyList<ChordShapes?> shapes, Chance chance, ArrangementPlan arrangement, int playing, bool leadsOn, bool everyone = false)
    {
        Parts = parts;
        _everyone = everyone;
        Chance = chance;
        Swing = plan.Chart.Swing;
        Outline = new RunOutline(plan, run);
        Playing = new RunPlaying(Outline, arrangement, playing, parts.Count, chance);
        Outline.Break(bar => Playing.TasksIn(bar).Tasks.Contains(PartTask.Break));
        LeadsOn = leadsOn;
        var singers = Enumerable.Range(0, parts.Count).Where(part => parts[part].Role == Role.Tune).ToArray();
        Tune = TuneLine.For(Outline, 0, singers.Any(Plays), leadsOn && singers.Any(PlaysNext) ? [0] : []);
        _tunes = [.. Enumerable.Range(0, parts.Count).Select(part => (IReadOnlyList<TuneLine>)(singers.Contains(part) ? [.. LinesOf(part)] : []))];
        _tunesByBar = [.. _tunes.Select(lines =>
            (IReadOnlyList<ByBar<TuneLineNote>>)[.. lines.Select(line => new ByBar<TuneLineNote>(Outline, line.Notes, note => note.Note.Onset))])];

        Sung = SungKeys();
        _shapes = new IReadOnlyList<ChordShape>?[parts.Count];
        _rolls = new RollWriter?[parts.Count];
        _basses = new IReadOnlyList<BassNote>?[parts.Count];
        _sustains = new SustainLine?[parts.Count];
        _bassesByBar = new ByBar<BassNote>?[parts.Count];
        _sustainsByBar = new ByBar<HeldNote>?[parts.Count];
        var held = new List<LineNote>();
        // Parts in order of priority: bass, sustain, pulse, roll.
        ForEach(Role.Bass, part =>
        {
            _basses[part] = BassLine.For(Outline, parts[part], part, Playing, leadsOn);
            _bassesByBar[part] = new ByBar<BassNote>(Outline, _basses[part]!, note => note.Note.Onset);
            held.AddRange(_basses[part]!.Select(note => note.Note));
        });
        ForEach(Role.Sustain, part =>
        {
            _sustains[part] = SustainLine.For(Outline, parts[part], part, Playing, Sung, InOrder(held));
            _sustainsByBar[part] = new ByBar<HeldNote>(Outline, _sustains[part]!.Notes, note => note.Note.Onset);
            held.AddRange(_sustains[part]!.Notes.Select(note => note.Note));
        });
        var sounding = InOrder(held);
        Held = sounding;
        var chorded = Outline.Chords.Select(stretch => sounding.KeysIn(stretch.Onset, stretch.End).ToHashSet()).ToArray();
        ForEach(Role.Pulse, part => TakeShapes(part, shapes[part]!, chorded));
        ForEach(Role.Roll, part =>
        {
            TakeShapes(part, shapes[part]!, chorded);
            _rolls[part] = new RollWriter(this, part);
        });
    }

    public IReadOnlyList<Part> Parts { get; }

    public Chance Chance { get; }

    public RunOutline Outline { get; }

    /// <summary>What the arrangement asks, and what differs from other playings of the section.</summary>
    public RunPlaying Playing { get; }

    /// <summary>The swing ratio, long half to short half.</summary>
    public Rational Swing { get; }

    /// <summary>True when another run follows, to which parts may lead; false at the end of the piece.</summary>
    public bool LeadsOn { get; }

    /// <summary>The tune as written.</summary>
    public TuneLine Tune { get; }

    /// <summary>The sounding keys of the tune parts; strokes and rolls keep more than two semitones away.</summary>
    public SoundingKeys Sung { get; }

    /// <summary>The keys held by bass and sustain.</summary>
    public SoundingKeys Held { get; }

    /// <summary>True when a part plays in this section.</summary>
    public bool Plays(int part) => PlaysIn(Outline.Run.Section, part)
        && (_everyone || Parts[part].Role is Role.Tune or Role.Count || !Playing.Rests(part));

    public IReadOnlyList<ChordShape> ShapesOf(int part) => _shapes[part]!;

    /// <summary>The keys of the strums of a chord.</summary>
    public IEnumerable<int> StrummedIn(int chord) => Enumerable.Range(0, Parts.Count)
        .Where(part => Parts[part].Role == Role.Pulse && Plays(part))
        .SelectMany(part => ShapesOf(part)[chord].Keys);

    public RollWriter RollOf(int part) => _rolls[part]!;

    public IReadOnlyList<BassNote> BassOf(int part) => _basses[part]!;

    public SustainLine SustainOf(int part) => _sustains[part]!;

    /// <summary>The notes of a part's bass that start in a bar of the run, each with its index in the line.</summary>
    public IEnumerable<(int Index, BassNote Note)> BassIn(int part, int barInRun) => _bassesByBar[part]!.In(barInRun);

    /// <summary>The notes of a part's held voices that start in a bar of the run.</summary>
    public IEnumerable<(int Index, HeldNote Note)> SustainIn(int part, int barInRun) => _sustainsByBar[part]!.In(barInRun);

    /// <summary>The notes of all lines of the tune that a part plays and that start in a bar of the run.</summary>
    public IEnumerable<TuneLineNote> TuneIn(int part, int barInRun) =>
        _tunesByBar[part].SelectMany(line => line.In(barInRun)).Select(found => found.Item);

    /// <summary>The lines of the tune as a part plays them; usually only the tune.</summary>
    public IReadOnlyList<TuneLine> TunesOf(int part) => _tunes[part];

    private bool PlaysNext(int part) => PlaysIn(Outline.Next.Section, part);

    private bool PlaysIn(Section section, int part) =>
        Parts[part].Role == Role.Count || section.Playing is not { } playing || playing.Contains(part);

    private static SoundingKeys InOrder(List<LineNote> notes) => new([.. notes.OrderBy(note => note.Onset)]);

    private void TakeShapes(int part, ChordShapes shapes, HashSet<int>[] taken)
    {
        var along = shapes.Along(Outline, taken);
        if (Parts[part].Role == Role.Pulse)
        {
            // A strum omits keys that others hold; short roll notes may touch them.
            along = [.. along.Select((shape, i) => ChordShapes.Without(shape, taken[i]))];
        }

        _shapes[part] = along;
        for (var i = 0; i < taken.Length; i++)
        {
            taken[i].UnionWith(along[i].Keys);
        }
    }

    private void ForEach(Role role, Action<int> act)
    {
        for (var part = 0; part < Parts.Count; part++)
        {
            if (Parts[part].Role == role && Plays(part))
            {
                act(part);
            }
        }
    }

    private IEnumerable<TuneLine> LinesOf(int part)
    {
        var here = TunePlayers.LinesOf(Outline.Run.Section, Parts, part);
        var next = LeadsOn ? TunePlayers.LinesOf(Outline.Next.Section, Parts, part) : [];
        var lines = new List<TuneLine>();
        foreach (var line in here.Union(next).Order())
        {
            var made = TuneLine.For(Outline, line, here.Contains(line), next).LaidBack(Outline, ((TuneSettings)Parts[part].Settings).LaidBack);
            lines.Add(lines.Aggregate(made, (left, other) => left.Beside(other)));
        }

        return lines;
    }

    private SoundingKeys SungKeys()
    {
        var notes = new List<LineNote>();
        for (var part = 0; part < Parts.Count; part++)
        {
            if (_tunes[part].Count == 0)
            {
                continue;
            }

            var octaves = 12 * ((TuneSettings)Parts[part].Settings).Octaves;
            // A consonant held until a late vowel sounds from the beat.
            notes.AddRange(_tunes[part].SelectMany(tune => tune.Notes).Select(note => new LineNote(
                note.Note.Onset - note.Late, note.Note.Length + note.Late, note.Note.Key + octaves, note.Note.Velocity)));
        }

        return InOrder(notes);
    }
}
