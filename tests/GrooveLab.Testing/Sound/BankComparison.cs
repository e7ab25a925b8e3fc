using System.Numerics;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;

namespace GrooveLab.Testing.Sound;

/// <summary>One note of a bank, played here and by fluidsynth.</summary>
/// <param name="Bank">Bank number, 128 for percussion.</param>
/// <param name="Program">Program number, 0-127.</param>
/// <param name="Name">The preset's name.</param>
/// <param name="Key">The key.</param>
/// <param name="Level">Level here, in dB of full scale; minus infinity for silence.</param>
/// <param name="LevelDifference">Level here minus there, in dB, with the difference that the specification explains taken out.</param>
/// <param name="Cents">Pitch of the strongest partial here minus there; null if no partial stands out.</param>
/// <param name="Bands">Third-octave levels here minus there within 40 dB of the loudest, in dB, the difference in level taken out.</param>
public sealed record ComparedNote(
    int Bank, int Program, string Name, int Key, double Level, double LevelDifference, double? Cents, IReadOnlyList<double> Bands);

/// <summary>Plays every program of a bank here and by fluidsynth, dry, and compares level, pitch and spectrum.</summary>
public sealed class BankComparison
{
    /// <summary>
    /// Known difference of the levels: fluidsynth is 1.505 dB louder without resonance and 3 x 0.136 dB softer at full velocity, volume and
    /// expression; at velocity 100 and full controllers 1.505 - 2 x 0.136 - 0.18.
    /// </summary>
    public const double KnownDecibels = -1.06;

    /// <summary>The key at which the programs of a bank are compared with each other.</summary>
    public const int MiddleKey = 60;

    // Multiples of half a second fall on fluidsynth's grid of 64 frames.
    private const double NoteSeconds = 1;
    private const double Spacing = 2;
    private const int Velocity = 100;
    private const double SilenceDecibels = -70;
    private const double BandRange = 40;
    private static readonly int[] MelodicKeys = [48, MiddleKey, 72];

    private BankComparison(string path, IReadOnlyList<ComparedNote> notes, int presets)
    {
        Path = path;
        Notes = notes;
        Presets = presets;
    }

    /// <summary>The file.</summary>
    public string Path { get; }

    /// <summary>Number of presets compared.</summary>
    public int Presets { get; }

    /// <summary>The notes that sound in both.</summary>
    public IReadOnlyList<ComparedNote> Notes { get; }

    /// <summary>Differences in level, in dB.</summary>
    public Distribution Level => new(Notes.Select(note => note.LevelDifference));

    /// <summary>Differences in pitch, in cents.</summary>
    public Distribution Pitch => new(Notes.Select(note => note.Cents).OfType<double>());

    /// <summary>Differences in the levels of third-octaves, in dB.</summary>
    public Distribution Band => new(Notes.SelectMany(note => note.Bands));

    /// <summary>Standard deviation of the levels of programs 1 to 120 at the middle key, in dB: a bank whose programs are balanced has little.</summary>
    public double Spread
    {
        get
        {
            var levels = Notes.Where(note => note.Bank == 0 && note.Key == MiddleKey && note.Program < 120 && note.Level > SilenceDecibels)
                .Select(note => note.Level).ToList();
            return levels.Count == 0 ? 0 : Math.Sqrt(levels.Average(level => Math.Pow(level - levels.Average(), 2)));
        }
    }

    /// <summary>
    /// What lies outside the bounds. They leave room for the known differences that cannot be taken out: softer notes are darker here
    /// (default modulator from velocity to cutoff), and layers whose oscillators and loops stand at other phases beat at other times.
    /// </summary>
    public IReadOnlyList<string> Faults =>
    [
        .. new (string What, double Value, double Bound)[]
        {
            ("median level, dB", Math.Abs(Level.Median), 0.4),
            ("level of nine in ten, dB", Level.Within(0.9), 1.2),
            ("level of 99 in 100, dB", Level.Within(0.99), 4),
            ("median pitch, cents", Math.Abs(Pitch.Median), 0.1),
            ("pitch of nine in ten, cents", Pitch.Within(0.9), 1.5),
            ("median third-octave, dB", Math.Abs(Band.Median), 0.5),
            ("third-octaves of nine in ten, dB", Band.Within(0.9), 4),
        }.Where(bound => bound.Value > bound.Bound).Select(bound => $"{bound.What}: {bound.Value:F2}, more than {bound.Bound}"),
    ];

    /// <summary>Plays and compares.</summary>
    /// <param name="path">The bank's file.</param>
    /// <param name="attenuationShare">The share of initial attenuation applied here.</param>
    /// <param name="keys">The keys of the melodic presets; default: 48, 60 and 72.</param>
    public static BankComparison Run(string path, float attenuationShare = SoundFontBank.UsualAttenuationShare, IReadOnlyList<int>? keys = null)
    {
        var bank = SoundFontBank.Open(path, attenuationShare);
        var presets = bank.Presets.Where(preset => preset.Bank is 0 or SoundFontPreset.PercussionBank).DistinctBy(preset => (preset.Bank, preset.Program))
            .OrderBy(preset => (preset.Bank, preset.Program)).ToList();
        var notes = presets.SelectMany(preset => (preset.Bank == 0 ? keys ?? MelodicKeys : [36, 38, 42, 49]).Select(key => (Preset: preset, Key: key))).ToList();
        var (left, right) = ReferenceRenderer.Render(Events(notes), path);
        var compared = new List<ComparedNote>();
        var synth = new SoundFontSynth(bank, ReferenceRenderer.Rate, new SoundFontSynthOptions { Dry = true });
        synth.Control(0, 7, 127);
        synth.Control(9, 7, 127);
        for (var i = 0; i < notes.Count; i++)
        {
            var (preset, key) = notes[i];
            var ours = Play(synth, preset, key);
            var from = Frames(1 + (Spacing * i));
            if (from + Frames(NoteSeconds) > left.Length)
            {
                break;
            }

            var theirs = Sum(left.AsSpan(from, Frames(NoteSeconds)), right.AsSpan(from, Frames(NoteSeconds)));
            if (Compare(preset, key, ours, theirs) is { } note)
            {
                compared.Add(note);
            }
        }

        return new BankComparison(path, compared, presets.Count);
    }

    private static IEnumerable<(double Seconds, byte[] Message)> Events(List<(SoundFontPreset Preset, int Key)> notes)
    {
        yield return (0, [0xb0, 7, 127]);
        yield return (0, [0xb9, 7, 127]);
        for (var i = 0; i < notes.Count; i++)
        {
            var (preset, key) = notes[i];
            var channel = Channel(preset);
            var at = 1 + (Spacing * i);
            yield return (at - 0.5, [(byte)(0xb0 | channel), 120, 0]);
            yield return (at - 0.5, [(byte)(0xc0 | channel), (byte)preset.Program]);
            yield return (at, [(byte)(0x90 | channel), (byte)key, Velocity]);
            yield return (at + NoteSeconds, [(byte)(0x80 | channel), (byte)key, 0]);
        }

        yield return (2 + (Spacing * notes.Count), [0xb0, 120, 0]);
    }

    private static int Channel(SoundFontPreset preset) => preset.Bank == 0 ? 0 : 9;

    private static int Frames(double seconds) => (int)(seconds * ReferenceRenderer.Rate);

    private static float[] Play(SoundFontSynth synth, SoundFontPreset preset, int key)
    {
        var channel = Channel(preset);
        var (left, right) = (new float[Frames(NoteSeconds)], new float[Frames(NoteSeconds)]);
        synth.Prepare(channel, preset.Program);
        synth.Program(channel, preset.Program);
        synth.NoteOn(channel, key, Velocity);
        synth.Render(left, right);
        synth.NoteOff(channel, key);
        synth.Control(channel, 120, 0);
        var silence = new float[Frames(Spacing - NoteSeconds)];
        synth.Render(silence, new float[silence.Length]);
        return Sum(left, right);
    }

    private static float[] Sum(ReadOnlySpan<float> left, ReadOnlySpan<float> right)
    {
        var sum = new float[left.Length];
        for (var i = 0; i < sum.Length; i++)
        {
            sum[i] = left[i] + right[i];
        }

        return sum;
    }

    private static ComparedNote? Compare(SoundFontPreset preset, int key, float[] ours, float[] theirs)
    {
        var (our, their) = (Decibels(Power(ours)), Decibels(Power(theirs)));
        if (our < SilenceDecibels && their < SilenceDecibels)
        {
            return null;
        }

        var difference = our - their;
        var (ourBands, theirBands) = (Bands(ours), Bands(theirs));
        var loudest = Math.Max(ourBands.Max() - difference, theirBands.Max());
        var bands = ourBands.Zip(theirBands).Where(pair => Math.Max(pair.First - difference, pair.Second) > loudest - BandRange)
            .Select(pair => pair.First - difference - pair.Second).ToList();
        var isTonal = preset.Bank == 0 && preset.Program < 112;
        return new ComparedNote(
            preset.Bank, preset.Program, preset.Name, key, our, difference - KnownDecibels, isTonal ? Cents(ours, theirs) : null, bands);
    }

    private static double Power(float[] sound) => sound.Average(value => (double)value * value);

    private static double Decibels(double power) => 10 * Math.Log10(power + 1e-20);

    private static double[] Bands(float[] sound)
    {
        var slices = BandLevels.Of(sound);
        return [.. Enumerable.Range(0, BandLevels.Bands).Select(band => Decibels(slices.Average(slice => Math.Pow(10, slice[band] / 10))))];
    }

    // The strongest partial there, and the nearest one here, each from the parabola through the logarithms of three bins.
    private static double? Cents(float[] ours, float[] theirs)
    {
        var (here, there) = (Spectrum(ours), Spectrum(theirs));
        var lowest = (int)(40.0 * 2 * here.Length / ReferenceRenderer.Rate);
        var peak = Enumerable.Range(lowest, there.Length - lowest - 1).MaxBy(bin => there[bin]);
        var around = Enumerable.Range(peak - (peak / 20) - 2, (peak / 10) + 4).Where(bin => bin > 0 && bin < here.Length - 1).ToList();
        var own = around.MaxBy(bin => here[bin]);
        return IsPeak(there, peak) && IsPeak(here, own) ? 1200 * Math.Log2(Place(here, own) / Place(there, peak)) : null;
    }

    private static bool IsPeak(double[] spectrum, int bin) =>
        bin > 8 && bin < spectrum.Length - 9 && Math.Max(spectrum[bin - 8], spectrum[bin + 8]) < spectrum[bin] - 20;

    private static double Place(double[] spectrum, int bin)
    {
        var (before, at, after) = (spectrum[bin - 1], spectrum[bin], spectrum[bin + 1]);
        return bin + (0.5 * (before - after) / (before - (2 * at) + after));
    }

    // Levels in dB of the second half of a note, with a Hann window.
    private static double[] Spectrum(float[] sound)
    {
        const int Size = 32_768;
        var values = new Complex[Size];
        for (var i = 0; i < Size; i++)
        {
            values[i] = sound[sound.Length - Size + i] * (0.5 - (0.5 * Math.Cos(2 * Math.PI * i / Size)));
        }

        BandLevels.Transform(values);
        return [.. values.Take(Size / 2).Select(value => Decibels(value.Magnitude * value.Magnitude))];
    }
}
