using System.Runtime.InteropServices;
using System.Runtime.Versioning;
using GrooveLab.Files.Posix;
using Microsoft.Win32.SafeHandles;

namespace GrooveLab.Files;

/// <summary>Writes to an open stream of this process at its current position, like every other writer to it.</summary>
[UnsupportedOSPlatform("windows")]
internal sealed class DescriptorStream : Stream
{
    private readonly SafeFileHandle _handle;

    /// <param name="descriptor">The descriptor; it stays open.</param>
    /// <exception cref="IOException">The stream does not exist.</exception>
    public DescriptorStream(int descriptor)
    {
        var own = PosixCalls.Duplicate(descriptor);
        if (own < 0)
        {
            var error = Marshal.GetLastPInvokeError();
            throw new IOException(Marshal.GetPInvokeErrorMessage(error), error);
        }

        _handle = new SafeFileHandle(own, ownsHandle: true);
    }

    public override bool CanRead => false;

    public override bool CanSeek => false;

    public override bool CanWrite => true;

    public override long Length => throw new NotSupportedException();

    public override long Position
    {
        get => throw new NotSupportedException();
        set => throw new NotSupportedException();
    }

    public override unsafe void Write(ReadOnlySpan<byte> buffer)
    {
        fixed (byte* bytes = buffer)
        {
            nint done = 0;
            while (done < buffer.Length)
            {
                var written = PosixCalls.Write(_handle, bytes + done, buffer.Length - done);
                if (written >= 0)
                {
                    done += written;
                }
                else if (Marshal.GetLastPInvokeError() is var error and not PosixErrors.Interrupted)
                {
                    throw new IOException(Marshal.GetPInvokeErrorMessage(error), error);
                }
            }
        }
    }

    public override void Write(byte[] buffer, int offset, int count) => Write(buffer.AsSpan(offset, count));

    public override void Flush()
    {
        // Each write has reached the system.
    }

    public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    public override void SetLength(long value) => throw new NotSupportedException();

    protected override void Dispose(bool disposing)
    {
        if (disposing)
        {
            _handle.Dispose();
        }

        base.Dispose(disposing);
    }
}
