using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The inner loops of many voices side by side: filter, then gains into sums that stay separate by lane and are combined once a block.
/// A voice keeps its lane for life and an idle lane adds nothing, so a lane never depends on its neighbours or on how the frames are
/// split.
/// </summary>
internal abstract unsafe class LaneKernel
{
    /// <summary>The number of lanes in a vector, and in a frame's sums.</summary>
    public abstract int Width { get; }

    /// <summary>The kernel of a width; null for the scalar one.</summary>
    public static LaneKernel? Of(KernelWidth width) => width switch
    {
        KernelWidth.Scalar => null,
        KernelWidth.Vector128 => new LaneKernel<Lanes128>(),
        KernelWidth.Vector256 => new LaneKernel<Lanes256>(),
        KernelWidth.Vector512 => new LaneKernel<Lanes512>(),
        // Sixteen lanes in one vector are not faster, because each frame waits for the one before it, and they cannot be precompiled for most processors.
        _ => Vector256.IsHardwareAccelerated ? new LaneKernel<Lanes256>()
            : new LaneKernel<Lanes128>(),
    };

    /// <summary>Filters in place.</summary>
    /// <param name="samples">A row of <see cref="VoiceLanes.Count"/> lanes for each frame.</param>
    /// <param name="fields">The first field of <see cref="VoiceLanes"/>.</param>
    /// <param name="frames">Rows.</param>
    /// <param name="lanes">The lanes in use, from the first on: half of them or all; the rest is idle.</param>
    public abstract void Filter(float* samples, float* fields, int frames, int lanes);

    /// <summary>Adds the samples to two sums by two gains.</summary>
    /// <param name="samples">A row of <see cref="VoiceLanes.Count"/> lanes for each frame.</param>
    /// <param name="gains">Two fields of gains, then the two of their steps.</param>
    /// <param name="first">Sums with the first gain, a vector for each frame.</param>
    /// <param name="second">Sums with the second gain.</param>
    /// <param name="frames">Rows.</param>
    /// <param name="lanes">The lanes in use, from the first on: half of them or all; the rest is idle.</param>
    public abstract void Mix(float* samples, float* gains, float* first, float* second, int frames, int lanes);

    /// <summary>Adds the samples to one sum by a gain; bit for bit as <see cref="Mix"/> does for two.</summary>
    /// <param name="samples">A row of <see cref="VoiceLanes.Count"/> lanes for each frame.</param>
    /// <param name="gain">A field of gains; its steps are two fields further on.</param>
    /// <param name="sum">Sums with the gain, a vector for each frame.</param>
    /// <param name="frames">Rows.</param>
    /// <param name="lanes">The lanes in use, from the first on: half of them or all; the rest is idle.</param>
    public abstract void MixSingle(float* samples, float* gain, float* sum, int frames, int lanes);

    /// <summary>Adds up each frame's lanes and adds the result to the output.</summary>
    public abstract void Collect(float* sums, Span<float> output);
}

/// <inheritdoc/>
internal sealed unsafe class LaneKernel<TLanes> : LaneKernel
    where TLanes : struct, ILanes<TLanes>
{
    private const int Row = VoiceLanes.Count;

    public override int Width => TLanes.Width;

    [MethodImpl(HotCode.Compiled)]
    public override void Filter(float* samples, float* fields, int frames, int lanes)
    {
        unchecked
        {
            // Adding a zero step changes no bit, so resting filters skip it.
            var isAtRest = Blocks.AreZero(new ReadOnlySpan<float>(Field(fields, LaneField.A1Step), 3 * Row));
            // Several vectors at a time: each frame waits for the one before it, and the other vectors fill the wait.
            var lane = 0;
            for (; lane + (4 * TLanes.Width) <= lanes; lane += 4 * TLanes.Width)
            {
                if (isAtRest)
                    FilterFourAtRest(samples + lane, fields + lane, frames);
                else
                    FilterFour(samples + lane, fields + lane, frames);
            }
            for (; lane < lanes; lane += 2 * TLanes.Width)
            {
                if (isAtRest)
                    FilterTwoAtRest(samples + lane, fields + lane, frames);
                else
                    FilterTwo(samples + lane, fields + lane, frames);
            }
        }
    }

    [MethodImpl(HotCode.Compiled)]
    public override void Mix(float* samples, float* gains, float* first, float* second, int frames, int lanes)
    {
        unchecked
        {
            for (var lane = 0; lane < lanes; lane += 2 * TLanes.Width)
                MixTwo(samples + lane, gains + lane, first, second, frames);
        }
    }

    [MethodImpl(HotCode.Compiled)]
    public override void MixSingle(float* samples, float* gain, float* sum, int frames, int lanes)
    {
        unchecked
        {
            for (var lane = 0; lane < lanes; lane += 2 * TLanes.Width)
                MixSingleTwo(samples + lane, gain + lane, sum, frames);
        }
    }

    [MethodImpl(HotCode.Compiled | MethodImplOptions.NoInlining)]
    public override void Collect(float* sums, Span<float> output)
    {
        unchecked
        {
            for (var i = 0; i < output.Length; i++)
                output[i] += TLanes.Sum(TLanes.Load(sums + (i * TLanes.Width)));
        }
    }

    [MethodImpl(HotCode.Compiled | MethodImplOptions.NoInlining)]
    private static void FilterTwo(float* samples, float* fields, int frames)
    {
        unchecked
        {
            var otherFields = fields + TLanes.Width;
            var others = samples + TLanes.Width;
            var f = new State(fields);
            var g = new State(otherFields);
            for (var i = 0; i < frames; i++)
            {
                TLanes.Store(f.Next(TLanes.Load(samples + (i * Row)), fields), samples + (i * Row));
                TLanes.Store(g.Next(TLanes.Load(others + (i * Row)), otherFields), others + (i * Row));
            }
            f.Save(fields);
            g.Save(otherFields);
        }
    }

    [MethodImpl(HotCode.Compiled | MethodImplOptions.NoInlining)]
    private static void FilterFour(float* samples, float* fields, int frames)
    {
        unchecked
        {
            var fields1 = fields + TLanes.Width;
            var fields2 = fields + (2 * TLanes.Width);
            var fields3 = fields + (3 * TLanes.Width);
            var f0 = new State(fields);
            var f1 = new State(fields1);
            var f2 = new State(fields2);
            var f3 = new State(fields3);
            for (var i = 0; i < frames; i++, samples += Row)
            {
                TLanes.Store(f0.Next(TLanes.Load(samples), fields), samples);
                TLanes.Store(f1.Next(TLanes.Load(samples + TLanes.Width), fields1), samples + TLanes.Width);
                TLanes.Store(f2.Next(TLanes.Load(samples + (2 * TLanes.Width)), fields2), samples + (2 * TLanes.Width));
                TLanes.Store(f3.Next(TLanes.Load(samples + (3 * TLanes.Width)), fields3), samples + (3 * TLanes.Width));
            }
            f0.Save(fields);
            f1.Save(fields1);
            f2.Save(fields2);
            f3.Save(fields3);
        }
    }

    [MethodImpl(HotCode.Compiled | MethodImplOptions.NoInlining)]
    private static void FilterTwoAtRest(float* samples, float* fields, int frames)
    {
        unchecked
        {
            var otherFields = fields + TLanes.Width;
            var others = samples + TLanes.Width;
            var f = new State(fields);
            var g = new State(otherFields);
            for (var i = 0; i < frames; i++)
            {
                TLanes.Store(f.NextAtRest(TLanes.Load(samples + (i * Row)), fields), samples + (i * Row));
                TLanes.Store(g.NextAtRest(TLanes.Load(others + (i * Row)), otherFields), others + (i * Row));
            }
            f.Save(fields);
            g.Save(otherFields);
        }
    }

    [MethodImpl(HotCode.Compiled | MethodImplOptions.NoInlining)]
    private static void FilterFourAtRest(float* samples, float* fields, int frames)
    {
        unchecked
        {
            var fields1 = fields + TLanes.Width;
            var fields2 = fields + (2 * TLanes.Width);
            var fields3 = fields + (3 * TLanes.Width);
            var f0 = new State(fields);
            var f1 = new State(fields1);
            var f2 = new State(fields2);
            var f3 = new State(fields3);
            for (var i = 0; i < frames; i++, samples += Row)
            {
                TLanes.Store(f0.NextAtRest(TLanes.Load(samples), fields), samples);
                TLanes.Store(f1.NextAtRest(TLanes.Load(samples + TLanes.Width), fields1), samples + TLanes.Width);
                TLanes.Store(f2.NextAtRest(TLanes.Load(samples + (2 * TLanes.Width)), fields2), samples + (2 * TLanes.Width));
                TLanes.Store(f3.NextAtRest(TLanes.Load(samples + (3 * TLanes.Width)), fields3), samples + (3 * TLanes.Width));
            }
            f0.Save(fields);
            f1.Save(fields1);
            f2.Save(fields2);
            f3.Save(fields3);
        }
    }

    /// <summary>Two vectors at once, so that the sums are loaded and stored half as often.</summary>
    [MethodImpl(HotCode.Compiled | MethodImplOptions.NoInlining)]
    private static void MixTwo(float* samples, float* gains, float* first, float* second, int frames)
    {
        unchecked
        {
            var others = gains + TLanes.Width;
            var a = TLanes.Load(gains);
            var b = TLanes.Load(gains + Row);
            var aStep = TLanes.Load(gains + (2 * Row));
            var bStep = TLanes.Load(gains + (3 * Row));
            var c = TLanes.Load(others);
            var d = TLanes.Load(others + Row);
            var cStep = TLanes.Load(others + (2 * Row));
            var dStep = TLanes.Load(others + (3 * Row));
            for (var i = 0; i < frames; i++)
            {
                a = TLanes.Add(a, aStep);
                b = TLanes.Add(b, bStep);
                c = TLanes.Add(c, cStep);
                d = TLanes.Add(d, dStep);
                var s = TLanes.Load(samples);
                var t = TLanes.Load(samples + TLanes.Width);
                TLanes.Store(TLanes.MultiplyAdd(t, c, TLanes.MultiplyAdd(s, a, TLanes.Load(first))), first);
                TLanes.Store(TLanes.MultiplyAdd(t, d, TLanes.MultiplyAdd(s, b, TLanes.Load(second))), second);
                samples += Row;
                first += TLanes.Width;
                second += TLanes.Width;
            }
            TLanes.Store(a, gains);
            TLanes.Store(b, gains + Row);
            TLanes.Store(c, others);
            TLanes.Store(d, others + Row);
        }
    }

    [MethodImpl(HotCode.Compiled | MethodImplOptions.NoInlining)]
    private static void MixSingleTwo(float* samples, float* gain, float* sum, int frames)
    {
        unchecked
        {
            var other = gain + TLanes.Width;
            var a = TLanes.Load(gain);
            var b = TLanes.Load(other);
            var aStep = TLanes.Load(gain + (2 * Row));
            var bStep = TLanes.Load(other + (2 * Row));
            for (var i = 0; i < frames; i++)
            {
                a = TLanes.Add(a, aStep);
                b = TLanes.Add(b, bStep);
                TLanes.Store(TLanes.MultiplyAdd(TLanes.Load(samples + TLanes.Width), b, TLanes.MultiplyAdd(TLanes.Load(samples), a, TLanes.Load(sum))), sum);
                samples += Row;
                sum += TLanes.Width;
            }
            TLanes.Store(a, gain);
            TLanes.Store(b, other);
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static float* Field(float* fields, LaneField field) => unchecked(fields + ((int)field * Row));

    /// <summary>
    /// The filter's state from frame to frame. Coefficients and steps stay in memory: with several vectors in turn there are not enough registers,
    /// and what waits for the frame before must not leave them.
    /// </summary>
    [method: MethodImpl(MethodImplOptions.AggressiveInlining)]
    private struct State(float* fields)
    {
        private TLanes _first = TLanes.Load(Field(fields, LaneField.Filter1));
        private TLanes _second = TLanes.Load(Field(fields, LaneField.Filter2));

        /// <summary>Moves the coefficients by their steps, then filters.</summary>
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public TLanes Next(TLanes sample, float* fields) => Filtered(
            sample, fields, Moved(fields, LaneField.A1, LaneField.A1Step), Moved(fields, LaneField.A2, LaneField.A2Step),
            Moved(fields, LaneField.A3, LaneField.A3Step));

        /// <summary>Filters with coefficients at rest.</summary>
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public TLanes NextAtRest(TLanes sample, float* fields) => Filtered(
            sample, fields, TLanes.Load(Field(fields, LaneField.A1)), TLanes.Load(Field(fields, LaneField.A2)), TLanes.Load(Field(fields, LaneField.A3)));

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        private TLanes Filtered(TLanes sample, float* fields, TLanes a1, TLanes a2, TLanes a3)
        {
            var input = TLanes.Subtract(sample, _second);
            var band = TLanes.MultiplyAdd(a1, _first, TLanes.Multiply(a2, input));
            var low = TLanes.MultiplyAdd(a3, input, TLanes.MultiplyAdd(a2, _first, _second));
            _first = TLanes.TwiceMinus(band, _first);
            // While the filter is off its state follows the sound, as if it had settled there.
            var mask = TLanes.Load(Field(fields, LaneField.FilterMask));
            _second = TLanes.Select(mask, TLanes.TwiceMinus(low, _second), sample);
            return TLanes.Select(mask, low, sample);
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public readonly void Save(float* fields)
        {
            TLanes.Store(_first, Field(fields, LaneField.Filter1));
            TLanes.Store(_second, Field(fields, LaneField.Filter2));
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        private static TLanes Moved(float* fields, LaneField coefficient, LaneField step)
        {
            var moved = TLanes.Add(TLanes.Load(Field(fields, coefficient)), TLanes.Load(Field(fields, step)));
            TLanes.Store(moved, Field(fields, coefficient));
            return moved;
        }
    }
}
