using System.Numerics;
using System.Runtime.ExceptionServices;
using System.Runtime.InteropServices;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Bars;

namespace GrooveLab.Audio.Playback;

/// <summary>A sound file of some parts of a band.</summary>
/// <param name="Path">The file to write.</param>
/// <param name="Plays">The parts that are heard.</param>
/// <param name="File">The format, and what the file says about the music.</param>
public sealed record MixFile(string Path, Func<PartChannels, bool> Plays, SoundFileOptions File);

/// <summary>
/// Several mixes of one band made together: each part is played once, by its own engine and synthesizer, and each mix is the sum of its parts, in the
/// order of the band, through a limiter of its own.
/// </summary>
/// <remarks>
/// Block by block, so memory does not grow with the music: first all parts play a block, then all mixes take it, both on several threads. The result
/// does not depend on their number.
/// </remarks>
internal sealed class MixSet : IDisposable
{
    private const int Channels = 2;
    private const int BlockFrames = 16_384;

    private readonly List<Part> _parts = [];
    private readonly List<Mix> _mixes = [];
    private readonly long _frames;
    private readonly int _workers;

    /// <summary>Creates the engines and starts the files.</summary>
    public MixSet(
        IBarSource source, IReadOnlyList<MixFile> files, long frames, EngineOptions engine, Func<int, ISoundFontSynth> makeSynth, int workers)
    {
        _frames = frames;
        _workers = workers;
        var heard = source.Band.Where(part => files.Any(file => file.Plays(part))).ToList();
        var players = new OfflinePlayer[heard.Count];
        var synths = new ISoundFontSynth[heard.Count];
        Each(heard.Count, index =>
        {
            synths[index] = makeSynth(engine.SampleRate);
            players[index] = new OfflinePlayer(BarRoute.Whole(source), synths[index], engine, part => ReferenceEquals(part, heard[index]), limited: false);
        });
        _parts.AddRange(heard.Select((part, index) => new Part(part, players[index], synths[index])));
        try
        {
            foreach (var file in files)
            {
                _mixes.Add(new Mix(
                    file.Path,
                    [.. _parts.Where(part => file.Plays(part.Channels))],
                    SoundFile.Begin(file.Path, engine.SampleRate, Channels, file.File, frames),
                    new Limiter(engine.SampleRate)));
            }
        }
        catch
        {
            Dispose();
            throw;
        }
    }

    /// <summary>Plays to the end and completes the files.</summary>
    public IReadOnlyList<RenderedFile> Write(int sampleRate, IProgress<double>? progress, CancellationToken cancellation)
    {
        for (long at = 0; at < _frames; at += BlockFrames)
        {
            cancellation.ThrowIfCancellationRequested();
            var samples = (int)Math.Min(BlockFrames, _frames - at) * Channels;
            Each(_parts.Count, index => _parts[index].Play(samples));
            Each(_mixes.Count, index => _mixes[index].Take(samples));
            progress?.Report((double)at / _frames);
        }

        cancellation.ThrowIfCancellationRequested();
        foreach (var part in _parts)
        {
            part.NeedEnd(_frames);
        }

        Each(_mixes.Count, index => _mixes[index].Finish());
        progress?.Report(1);
        return [.. _mixes.Select(mix => mix.Result(_frames, sampleRate))];
    }

    public void Dispose()
    {
        foreach (var part in _parts)
        {
            part.Dispose();
        }

        foreach (var mix in _mixes)
        {
            mix.Dispose();
        }
    }

    private void Each(int count, Action<int> work)
    {
        if (_workers == 1 || count == 1)
        {
            for (var index = 0; index < count; index++)
            {
                work(index);
            }

            return;
        }

        try
        {
            Parallel.For(0, count, new ParallelOptions { MaxDegreeOfParallelism = _workers }, work);
        }
        catch (AggregateException failures)
        {
            // As if there were one thread: a full disk is told once.
            ExceptionDispatchInfo.Capture(failures.InnerExceptions[0]).Throw();
        }
    }

    private sealed class Part(PartChannels channels, OfflinePlayer player, ISoundFontSynth synth) : IDisposable
    {
        private readonly float[] _block = new float[BlockFrames * MixSet.Channels];

        public PartChannels Channels => channels;

        public float[] Block => _block;

        public Health Health => player.Health;

        public void Play(int samples)
        {
            var done = 0;
            int read;
            do
            {
                read = player.Read(_block.AsSpan(done, samples - done));
                done += read;
            }
            while (done < samples && read > 0);
            Array.Clear(_block, done, samples - done);
        }

        public void NeedEnd(long frames)
        {
            if (player.Engine.Playhead.Frame != frames)
            {
                throw new InvalidOperationException($"The engine rendered {player.Engine.Playhead.Frame} frames instead of {frames}.");
            }
        }

        public void Dispose() => (synth as IDisposable)?.Dispose();
    }

    private sealed class Mix(string path, IReadOnlyList<Part> parts, ISoundWriter writer, Limiter limiter) : IDisposable
    {
        private readonly float[] _sum = new float[BlockFrames * MixSet.Channels];
        private readonly float[] _left = new float[BlockFrames];
        private readonly float[] _right = new float[BlockFrames];
        private int _toDrop = limiter.LatencyFrames;
        private float _peak;

        /// <summary>Adds the parts' block and writes what leaves the limiter.</summary>
        public void Take(int samples)
        {
            var sum = _sum.AsSpan(0, samples);
            sum.Clear();
            foreach (var part in parts)
            {
                Add(part.Block.AsSpan(0, samples), sum);
            }

            _peak = Math.Max(_peak, Blocks.Peak(sum));
            var frames = samples / MixSet.Channels;
            Blocks.Split(sum, _left.AsSpan(0, frames), _right.AsSpan(0, frames));
            Pass(frames);
        }

        /// <summary>Writes the rest, which the limiter still holds.</summary>
        public void Finish()
        {
            // What was dropped at the start is missing at the end.
            var rest = limiter.LatencyFrames - _toDrop;
            Array.Clear(_left, 0, rest);
            Array.Clear(_right, 0, rest);
            Pass(rest);
            writer.Commit();
        }

        public RenderedFile Result(long frames, int sampleRate) =>
            new(path, frames, sampleRate, 20 * Math.Log10(_peak), Health.OfMix(parts.Select(part => part.Health), limiter, sampleRate));

        public void Dispose() => writer.Dispose();

        private void Pass(int frames)
        {
            limiter.Process(_left.AsSpan(0, frames), _right.AsSpan(0, frames));
            var dropped = Math.Min(frames, _toDrop);
            _toDrop -= dropped;
            var passed = frames - dropped;
            Blocks.Interleave(_left.AsSpan(dropped, passed), _right.AsSpan(dropped, passed), _sum);
            writer.Write(_sum.AsSpan(0, passed * MixSet.Channels));
        }

        private static void Add(ReadOnlySpan<float> one, Span<float> sum)
        {
            var wide = MemoryMarshal.Cast<float, Vector<float>>(sum);
            var others = MemoryMarshal.Cast<float, Vector<float>>(one);
            for (var i = 0; i < wide.Length; i++)
            {
                wide[i] += others[i];
            }

            for (var i = wide.Length * Vector<float>.Count; i < sum.Length; i++)
            {
                sum[i] += one[i];
            }
        }
    }
}
